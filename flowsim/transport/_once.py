"""Values that are found once and kept, without making other threads wait."""

from __future__ import annotations

from collections.abc import Callable, Hashable
from typing import Any, Generic, TypeVar, overload
from weakref import WeakKeyDictionary

__all__ = ["Beside", "Once"]

Value = TypeVar("Value")


class Once(Generic[Value]):
    """A property that is found at first use and kept.

    Unlike that of the standard library up to Python 3.11 it holds no lock that all instances
    share: two threads may find the same value at once, and then both get the same one.

    Parameters
    ----------
    function : callable
        Finds the value from the instance.
    """

    def __init__(self, function: Callable[[Any], Value]) -> None:
        self.function = function
        self.name = function.__name__
        self.__doc__ = function.__doc__

    @overload
    def __get__(self, instance: None, owner: type) -> Once[Value]: ...
    @overload
    def __get__(self, instance: object, owner: type) -> Value: ...
    def __get__(self, instance: object | None, owner: type) -> Once[Value] | Value:
        """Return the kept value, found now if need be; it hides this property from then on."""
        if instance is None:
            return self
        found: Value = instance.__dict__.setdefault(self.name, self.function(instance))
        return found


class Beside(Generic[Value]):
    """Values found once for an object and kept as long as that lives.

    They must follow from the object and a key alone, so that it does not matter who finds them.

    Parameters
    ----------
    most : int
        Kept for one object; the oldest go first. [-]
    """

    def __init__(self, most: int) -> None:
        self.most = most
        self._kept: WeakKeyDictionary[Any, dict[Hashable, Value]] = WeakKeyDictionary()

    def get(self, owner: object, key: Hashable, find: Callable[[], Value]) -> Value:
        """Return the kept value, found now if need be.

        Parameters
        ----------
        owner : object
            What it is kept for; told from others by identity.
        key : hashable
            Which value of it. [-]
        find : callable
            Returns the value.

        Returns
        -------
        object
            The value; no one may change it.
        """
        values = self._kept.setdefault(owner, {})
        try:
            return values[key]
        except KeyError:
            found = values.setdefault(key, find())
        for old in list(values)[: max(len(values) - self.most, 0)]:
            values.pop(old, None)
        return found

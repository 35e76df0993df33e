"""Values that are found once and kept, without making other threads wait."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Generic, TypeVar, overload

__all__ = ["Once"]

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

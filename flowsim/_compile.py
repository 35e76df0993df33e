"""One wrapper around Numba's compiler."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar, cast

import numba

__all__ = ["compiled"]

_OPTIONS: dict[str, Any] = {"error_model": "numpy", "nogil": True}

Function = TypeVar("Function", bound=Callable[..., Any])


def compiled(function: Function) -> Function:
    """Compile a kernel, cached on disk where a cache can be written.

    Kernels touch nothing but their arguments, so they let other threads run meanwhile.

    A read-only installation whose user has no writable home offers no place for the cache;
    the kernel is then compiled anew in each process instead of failing at import.

    Parameters
    ----------
    function : callable
        Scalars and arrays in, a scalar or a filled array back.

    Returns
    -------
    callable
        The compiled function.
    """
    try:
        return cast("Function", numba.njit(cache=True, **_OPTIONS)(function))
    except RuntimeError:
        return cast("Function", numba.njit(**_OPTIONS)(function))

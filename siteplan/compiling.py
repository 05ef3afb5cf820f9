"""A function in; out: the same, compiled by numba and kept on disk. Importing this costs a quarter of a second."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar, cast

from numba import njit

Function = TypeVar("Function", bound=Callable[..., Any])


def compiled(function: Function) -> Function:
    """The function compiled by numba, its machine code kept on disk where a place can be written.

    Parameters
    ----------
    function : callable
        Plain loops over arrays.

    Returns
    -------
    callable
        Compiled at its first call, which takes seconds; read from the cache afterwards. Without a writable
        place for the cache every process compiles anew.
    """
    try:
        return cast("Function", njit(cache=True)(function))
    except RuntimeError:  # no writable place for the cache
        return cast("Function", njit(function))

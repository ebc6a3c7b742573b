"""The one decorator of compiled loops."""

from collections.abc import Callable
from typing import ParamSpec, TypeVar, cast

import numba

P = ParamSpec("P")
R = TypeVar("R")


def hot(function: Callable[P, R]) -> Callable[P, R]:
    """Compile a plain array function, with the result cached on disk.

    No fastmath and no parallel loops: the answer is that of the plain function, which stays
    reachable as `.py_func`.
    """
    return cast(Callable[P, R], numba.njit(cache=True, nogil=True)(function))

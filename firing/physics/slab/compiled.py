"""How the kernels are compiled: the only module that imports numba.

Importing it is slow, so only kernels import it, and they are imported when a firing is
computed. No equation lives here.
"""

import zlib
from collections.abc import Callable
from types import FunctionType, ModuleType
from typing import TYPE_CHECKING, TypeVar

from numba import njit

if TYPE_CHECKING:
    from numba.core.dispatcher import Dispatcher

Compiled = TypeVar("Compiled", bound=Callable[..., object])

# Products and sums may be fused and constant divisors turned into factors; nothing that
# would stop "not a number" from being seen.
FUSED = {"contract", "arcp"}


def kernel(function: Compiled) -> "Dispatcher[Compiled]":
    """Compile a function that only other kernels call.

    It is not cached on disk by itself: numba links it into its caller.
    """
    return njit(error_model="numpy", fastmath=FUSED)(function)


def entry(function: Compiled) -> "Dispatcher[Compiled]":
    """Compile a function that Python calls, and keep the result on disk.

    While it runs, other threads of Python run too.

    Where no folder can be written, it is compiled again in each process.
    """
    try:
        made = njit(cache=True, nogil=True, error_model="numpy", fastmath=FUSED)(
            function
        )
    except RuntimeError:  # numba finds no folder for its cache
        made = njit(nogil=True, error_model="numpy", fastmath=FUSED)(function)
    return made


def fingerprint(*modules: ModuleType) -> int:
    """Return a number that changes when code or constants of these modules change.

    numba compares only the time stamp of the file that holds a cached function. A
    kernel that is linked in from another file would stay as it was; an entry that
    closes over this number is compiled anew.
    """
    seen = 0
    for module in modules:
        for name, value in sorted(vars(module).items()):
            seen = zlib.crc32(f"{name}={_known_as(value)}".encode(), seen)
    return seen


def _known_as(value: object) -> str:
    function = getattr(value, "py_func", value)
    if isinstance(function, FunctionType):
        code = function.__code__
        constants = [item for item in code.co_consts if not hasattr(item, "co_code")]
        return f"{code.co_code.hex()}{constants!r}{code.co_names!r}"
    return repr(value) if isinstance(value, int | float) else ""

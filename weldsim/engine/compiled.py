"""How the kernels are compiled: what each of their functions is declared as, and what numba makes of them.

numba's own cache is not used: it is keyed on the file of the outer function only, so a change in a called file would go
unseen, and raises while decorating when it finds no writable folder.  What is made is kept by ``doors.py``.
"""

import contextlib
import gc
from collections.abc import Callable, Iterator
from typing import Any

import numba
import numpy as np
from numba import types
from numba.core.compiler_lock import global_compiler_lock
from numba.core.registry import cpu_target

from weldsim.engine.machine import BODY, Intermediate

_SETTINGS: Any = numba.config

# Sums may be regrouped and products fused (both only move the last digit); infinities and NaN keep their meaning.
ARITHMETIC = {"reassoc", "contract", "nsz"}
# No door for Python (see doors.py); arrays are not counted in and out, so nothing may be allocated.
BARE: dict[str, Any] = {"nogil": True, "_nrt": False, "no_cpython_wrapper": True, "no_cfunc_wrapper": True}
TRIED = (0, 60), (0, 68)  # first and last numba whose inside ``linked`` was tried with; others compile as they do


def _ways() -> tuple[dict[str, Any], dict[str, Any], Any]:
    """Options for what is compiled by itself and for what is only linked, and what is held open meanwhile."""
    if _SETTINGS.DISABLE_JIT or not TRIED[0] <= numba.version_info.short <= TRIED[1]:
        return BARE, BARE, contextlib.nullcontext
    from weldsim.engine.linked import Lean, Linked, remembering

    return BARE | {"pipeline_class": Lean}, BARE | {"pipeline_class": Linked}, remembering


LEAN, LINKED, remembering = _ways()


def inner(function: Callable[..., Any]) -> Callable[..., Any]:
    """Decorate a kernel function: linked into what calls it, and compiled by itself where Python does (a door)."""
    return numba.njit(fastmath=ARITHMETIC, **LINKED)(function)


def inlined(function: Callable[..., Any]) -> Callable[..., Any]:
    """As ``inner``, for what is so short that handing over its arrays would take as long as it does."""
    return numba.njit(fastmath=ARITHMETIC, forceinline=True, **LINKED)(function)


def verbatim(function: Callable[..., Any]) -> Callable[..., Any]:
    """As ``inner``, its arithmetic as it is written: for what calculates with its own rounding, number by number."""
    plain: set[str] = set()
    door: Any = numba.njit(fastmath=plain, **LINKED)(function)
    if not _SETTINGS.DISABLE_JIT:
        door.verbatim = True
    return door


def intermediate(function: Any, arguments: tuple[Any, ...]) -> Intermediate:
    """What numba makes of a kernel function for arguments of these kinds."""
    kinds, plain = tuple(_kind(one) for one in arguments), hasattr(function, "verbatim")
    with _lightly(vectorized=plain):
        door: Any = numba.njit(fastmath=set() if plain else ARITHMETIC, **LEAN)(function.py_func)
        door.compile(kinds)
    made = door.overloads[kinds]
    text = made.library.get_llvm_str().replace(made.fndesc.llvm_func_name, BODY)
    return Intermediate(text, str(made.signature.return_type))


def _kind(argument: Any) -> Any:
    """numba's type of what is handed over: arrays are contiguous, all numbers of 64 bits."""
    if isinstance(argument, np.ndarray):
        return types.Array(numba.from_dtype(argument.dtype), argument.ndim, "C")
    if isinstance(argument, tuple):
        named = type(argument) if hasattr(argument, "_fields") else None
        return types.BaseTuple.from_types([_kind(one) for one in argument], named)
    return types.float64 if isinstance(argument, float) else types.int64


@contextlib.contextmanager
def _lightly(*, vectorized: bool = False) -> Iterator[None]:
    """Compile with a light optimizer and without sweeping.

    The products that take the time are written as vector instructions already (products.py), but for those that ask to
    be ``vectorized``.  What the heavy optimizer finds to do beside them gains nothing that can be measured, and takes
    an eighth of the time; another eighth where ``NUMBA_OPT`` says so before numba is loaded, as the command does.  The
    compiler makes a million small things, most of which stay: sweeping through them takes a twentieth.
    """
    names = ("OPT", "LOOP_VECTORIZE", "SLP_VECTORIZE")
    with global_compiler_lock:
        _ = cpu_target.target_context  # made once in a process, with the settings that others of its functions expect
        before, swept = [getattr(_SETTINGS, name) for name in names], gc.isenabled()
        gc.disable()
        for name, value in zip(names, (type(_SETTINGS.OPT)(1), int(vectorized), 0), strict=True):
            setattr(_SETTINGS, name, value)
        try:
            with remembering():
                yield
        finally:
            for name, value in zip(names, before, strict=True):
                setattr(_SETTINGS, name, value)
            if swept:
                gc.enable()

"""How the kernels are compiled: what each of their functions is declared as, and what numba makes of them.

numba keys its own cache on the file of the outer function only, so a change in a called file would go unseen; and it
raises while decorating when it finds no writable folder.  Here its cache stands in the folder of ``kept.py``.
"""

import contextlib
import gc
import pickle
from collections.abc import Callable, Iterator
from typing import Any

import numba
import numpy as np
from numba import types
from numba.core import caching
from numba.core.compiler_lock import global_compiler_lock
from numba.core.registry import cpu_target
from numba.core.runtime import rtsys

from weldsim.engine.kept import cache_folder
from weldsim.engine.machine import BODY, Intermediate

_SETTINGS: Any = numba.config
_FOLDER = cache_folder()

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


class _LightCache(caching.FunctionCache):
    """numba's cache without the definitions of all that it can compile: half a second that only compiling needs."""

    def load_overload(self, sig: Any, target_context: Any) -> Any:
        """The compiled code of one signature, or None where it is not kept."""
        rtsys.initialize(target_context)
        with self._guard_against_spurious_io_errors():
            return self._load_overload(sig, target_context)

    def save_overload(self, sig: Any, data: Any) -> None:
        """Keep the compiled code of one signature, unless there is no room for it."""
        with contextlib.suppress(OSError):
            super().save_overload(sig, data)


def shared(function: Callable[..., Any]) -> Callable[..., Any]:
    """As ``inner``, compiled by itself and kept for whatever links it: another process may do so beside this one."""
    door: Any = numba.njit(fastmath=ARITHMETIC, **LEAN)(function)
    if _SETTINGS.DISABLE_JIT:
        return door
    door.compile = _lightly()(door.compile)
    door.shared = True
    if _FOLDER is not None:
        before = _SETTINGS.CACHE_DIR
        _SETTINGS.CACHE_DIR = str(_FOLDER)
        try:
            door._cache = _LightCache(function)
        finally:
            _SETTINGS.CACHE_DIR = before
    return door


def intermediate(function: Any, arguments: tuple[Any, ...]) -> Intermediate:
    """What numba makes of a kernel function for arguments of these kinds."""
    kinds = tuple(_kind(one) for one in arguments)
    made = _made(function, kinds) if hasattr(function, "shared") else None
    if made is None or made.library._compiled_object is None:  # linked before, which leaves no code
        plain = hasattr(function, "verbatim")
        with _lightly(vectorized=plain):
            made = _made(numba.njit(fastmath=set() if plain else ARITHMETIC, **LEAN)(function.py_func), kinds)
    symbol, library = made.fndesc.llvm_func_name, made.library
    texts = (str(module) for module in (library._final_module, library._shared_module))  # the second: from its cache
    text = next(text for text in texts if symbol in text)
    return Intermediate(text.replace(symbol, BODY), str(made.signature.return_type))


def _made(door: Any, kinds: tuple[Any, ...]) -> Any:
    """What numba makes of a function; what it has kept of those that are linked and cannot read is thrown away once."""
    try:
        door.compile(kinds)
    except (pickle.UnpicklingError, EOFError, ImportError, ValueError, KeyError, IndexError, AttributeError):
        if _FOLDER is None:
            raise
        for file in _FOLDER.rglob("*.nb[ic]"):
            file.unlink(missing_ok=True)
        door.compile(kinds)
    made = door.overloads[kinds]
    made.library.get_pointer_to_function(made.fndesc.llvm_func_name)  # until then it may be no machine code
    return made


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

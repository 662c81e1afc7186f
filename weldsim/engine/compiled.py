"""Compiling with a cache that cannot go stale, cannot crash on import, and works where the package is read-only.

numba keys its cache on the file of the outer function only, so a change in a called file would go unseen; and it raises
while decorating when it finds no writable folder.  Here the cache folder is named after a digest of every kernel
file, and a machine without a writable place compiles without a cache.
"""

import contextlib
import gc
import hashlib
import os
import pickle
import shutil
import sys
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import numba
from numba.core import caching
from numba.core.compiler_lock import global_compiler_lock
from numba.core.registry import cpu_target
from numba.core.runtime import rtsys

_SETTINGS: Any = numba.config
KERNEL_FILES = (
    "products.py",
    "kernel.py",
    "readout_kernel.py",
    "sample_kernel.py",
    "extremes_kernel.py",
    "wire_kernel.py",
    "fine_kernel.py",
)
HOW = ("compiled.py", "linked.py")  # which say how they are compiled


def kernel_digest() -> str:
    """Digest of all kernel files, of how they are compiled, and of the versions that do."""
    digest = hashlib.sha256(f"{sys.version_info[:2]}{numba.__version__}".encode())
    for name in (*KERNEL_FILES, *HOW):
        file = Path(__file__).with_name(name)
        if file.exists():
            digest.update(file.read_bytes())
    return digest.hexdigest()[:16]


def cache_folder() -> Path | None:
    """A writable folder for compiled code, or None where the machine has none."""
    bases = [os.environ.get("WELDSIM_CACHE"), os.environ.get("XDG_CACHE_HOME")]
    with contextlib.suppress(RuntimeError):
        home = Path.home()
        bases.append(str(home / "AppData" / "Local") if os.name == "nt" else str(home / ".cache"))
    bases.append(str(Path(tempfile.gettempdir()) / f"weldsim-{os.getuid() if hasattr(os, 'getuid') else 'user'}"))
    for base in bases:
        if not base:
            continue
        folder = Path(base) / "weldsim" / kernel_digest()
        try:
            folder.mkdir(parents=True, exist_ok=True, mode=0o700)
            with tempfile.TemporaryFile(dir=folder):
                pass
        except OSError:
            continue
        if hasattr(os, "getuid") and folder.stat().st_uid != os.getuid():
            continue  # compiled code of somebody else is never loaded
        return folder
    return None


_FOLDER = cache_folder()


class _LightCache(caching.FunctionCache):
    """numba's cache without the definitions of all that it can compile: half a second that only compiling needs."""

    def load_overload(self, sig: Any, target_context: Any) -> Any:
        """The compiled code of one signature, or None where it is not kept."""
        rtsys.initialize(target_context)
        with self._guard_against_spurious_io_errors():
            return self._load_overload(sig, target_context)


# Sums may be regrouped and products fused (both only move the last digit); infinities and NaN keep their meaning.
ARITHMETIC = {"reassoc", "contract", "nsz"}


def compiled(function: Callable[..., Any]) -> Callable[..., Any]:
    """Decorate a kernel function: compiled on first call, cached on disk when there is a place for it."""
    return _door(function, ARITHMETIC)


def verbatim(function: Callable[..., Any]) -> Callable[..., Any]:
    """As ``compiled``, its arithmetic as it is written: for what calculates with its own rounding, number by number."""
    return _door(function, set(), vectorized=True)


def uncounted(function: Callable[..., Any]) -> Callable[..., Any]:
    """As ``compiled``, for what compiled code calls over and over too: within, arrays are not counted in and out.

    Nothing may be allocated in it.
    """
    return _door(function, ARITHMETIC, _nrt=False)


def _door(
    function: Callable[..., Any], arithmetic: set[str], *, vectorized: bool = False, **options: Any
) -> Callable[..., Any]:
    asked: dict[str, Any] = {"nogil": True, "fastmath": arithmetic, "no_cfunc_wrapper": True} | options
    door: Any = numba.njit(**asked)(function)
    if _SETTINGS.DISABLE_JIT:
        return door
    door.compile = _lightly(vectorized=vectorized)(door.compile)
    if _FOLDER is not None:
        before = _SETTINGS.CACHE_DIR
        _SETTINGS.CACHE_DIR = str(_FOLDER)
        try:
            door._cache = _LightCache(function)
        finally:
            _SETTINGS.CACHE_DIR = before
    return door


INNER = {"_nrt": False, "no_cpython_wrapper": True, "no_cfunc_wrapper": True}
TRIED = (0, 60), (0, 68)  # first and last numba whose inside ``linked`` was tried with; others compile as they do


def _linked() -> dict[str, Any]:
    """Options for what is only linked into other functions."""
    if _SETTINGS.DISABLE_JIT or not TRIED[0] <= numba.version_info.short <= TRIED[1]:
        return INNER
    from weldsim.engine.linked import Linked

    return INNER | {"pipeline_class": Linked}


LINKED = _linked()


def inner(function: Callable[..., Any]) -> Callable[..., Any]:
    """Decorate a kernel function that only compiled code calls: no door for Python, arrays are not counted in and out.

    Nothing may be allocated in it.
    """
    return numba.njit(nogil=True, fastmath=ARITHMETIC, **LINKED)(function)


def shared(function: Callable[..., Any]) -> Callable[..., Any]:
    """As ``inner``, kept on disk by itself: another process may compile it while this one is busy with the rest."""
    return _door(function, ARITHMETIC, **INNER)


def inlined(function: Callable[..., Any]) -> Callable[..., Any]:
    """As ``inner``, for what is so short that handing over its arrays would take as long as it does."""
    return numba.njit(nogil=True, fastmath=ARITHMETIC, forceinline=True, **LINKED)(function)


def is_compiled_already() -> bool:
    """Whether the cache folder holds code, so that a first call will not have to compile."""
    return _FOLDER is not None and any(_FOLDER.rglob("*.nbc"))


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
            yield
        finally:
            for name, value in zip(names, before, strict=True):
                setattr(_SETTINGS, name, value)
            if swept:
                gc.enable()


def guarded(function: Callable[..., Any]) -> Callable[..., Any]:
    """Call a compiled function; a damaged cache is deleted once and the code compiled anew."""

    def call(*arguments: Any) -> Any:
        try:
            return function(*arguments)
        except (pickle.UnpicklingError, EOFError, ImportError, ValueError, KeyError, IndexError, AttributeError):
            if _FOLDER is None or getattr(function, "overloads", None):
                raise
            shutil.rmtree(_FOLDER, ignore_errors=True)
            _FOLDER.mkdir(parents=True, exist_ok=True)
            return function(*arguments)

    return call

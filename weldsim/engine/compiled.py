"""How the kernels are compiled: what each of their functions is declared as, and machine code for the doors.

numba keys its own cache on the file of the outer function only, so a change in a called file would go unseen; and it
raises while decorating when it finds no writable folder.  Here its cache stands in the folder of ``kept.py``.
"""

import contextlib
import gc
import pickle
from collections.abc import Callable, Iterator
from typing import Any

import llvmlite.binding as llvm
import numba
import numpy as np
from llvmlite import ir
from numba import types
from numba.core import caching
from numba.core.compiler_lock import global_compiler_lock
from numba.core.registry import cpu_target
from numba.core.runtime import rtsys

from weldsim.engine.doors import ENTRY, PLACES, SCATTERED
from weldsim.engine.kept import cache_folder
from weldsim.frozen import dataclass

_SETTINGS: Any = numba.config
_FOLDER = cache_folder()

# Sums may be regrouped and products fused (both only move the last digit); infinities and NaN keep their meaning.
ARITHMETIC = {"reassoc", "contract", "nsz"}
# No door for Python (see doors.py); arrays are not counted in and out, so nothing may be allocated.
BARE: dict[str, Any] = {"nogil": True, "_nrt": False, "no_cpython_wrapper": True, "no_cfunc_wrapper": True}
TRIED = (0, 60), (0, 68)  # first and last numba whose inside ``linked`` was tried with; others compile as they do
# Functions of the mathematical library that the compiler has a word of its own for.
MATHEMATICAL = {"sin", "cos", "tan", "exp", "exp2", "log", "log2", "log10", "pow", "fma"}


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


@dataclass(frozen=True)
class MachineCode:
    """A function as the machine has it: its code and that of the entry to it, what it returns and calls."""

    code: bytes
    entry: bytes
    returns: str
    calls: tuple[str, ...]


def machine_code(function: Any, arguments: tuple[Any, ...]) -> MachineCode:
    """Compile a kernel function for arguments of these kinds."""
    kinds = tuple(_kind(one) for one in arguments)
    made = _made(function, kinds) if hasattr(function, "shared") else None
    if made is None or made.library._compiled_object is None:  # linked before, which leaves no code
        plain = hasattr(function, "verbatim")
        with _lightly(vectorized=plain):
            made = _made(numba.njit(fastmath=set() if plain else ARITHMETIC, **LEAN)(function.py_func), kinds)
    calls = {_called(one.name) for one in made.library._final_module.functions if one.is_declaration}
    return MachineCode(
        made.library._get_compiled_object(),
        _entry(made.fndesc.llvm_func_name, kinds),
        str(made.signature.return_type),
        tuple(sorted(calls - {""})),
    )


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


def _entry(symbol: str, kinds: tuple[Any, ...]) -> bytes:
    """Code that calls a function of numba's with what a row holds: numbers, and the addresses of arrays.

    The function gives a status, and writes its result to where its first argument points, an error where its second
    does.  An array goes over as owner and parent (none here), count, size of an item, address, shape and strides, a
    tuple as its members.  To the machine an address is a whole number.
    """
    status, whole = ir.IntType(32), ir.IntType(64)
    members = [one for kind in kinds for one in _members(kind)]
    taken = [kind for one in members for kind in ([whole] * (5 + 2 * one.ndim) if _is_array(one) else [_wide(one)])]
    module = ir.Module()
    module.triple = llvm.get_process_triple()
    called = ir.Function(module, ir.FunctionType(status, [whole, whole, *taken]), symbol)
    entry = ir.Function(module, ir.FunctionType(status, [whole, whole]), ENTRY)
    builder = ir.IRBuilder(entry.append_basic_block())

    def at(address: Any, place: int, kind: Any = whole) -> Any:
        there = builder.add(address, ir.Constant(whole, place))
        return builder.load(builder.inttoptr(there, kind.as_pointer()), align=1)

    error, even, numbers = builder.alloca(whole), ir.Constant(status, 1), []
    for place, one in enumerate(members):
        if not _is_array(one):
            numbers.append(at(entry.args[0], 8 * place, _wide(one)))
            continue
        array = at(entry.args[0], 8 * place)
        data, shapes, strides = (at(array, PLACES[name]) for name in ("data", "shape", "strides"))
        even = builder.and_(even, at(array, PLACES["flags"], status))
        shape = [at(shapes, 8 * axis) for axis in range(one.ndim)]
        count = ir.Constant(whole, 1)
        for length in shape:
            count = builder.mul(count, length)
        nobody, size = ir.Constant(whole, 0), ir.Constant(whole, one.dtype.bitwidth // 8)
        numbers += [nobody, nobody, count, size, data, *shape, *(at(strides, 8 * axis) for axis in range(one.ndim))]
    with builder.if_then(builder.icmp_signed("==", even, ir.Constant(status, 0))):
        builder.ret(ir.Constant(status, SCATTERED))
    builder.ret(builder.call(called, [entry.args[1], builder.ptrtoint(error, whole), *numbers]))
    machine = llvm.Target.from_default_triple().create_target_machine(
        opt=1, reloc="default", codemodel="jitdefault", jit=True
    )
    made: bytes = machine.emit_object(llvm.parse_assembly(str(module)))
    return made


def _members(kind: Any) -> list[Any]:
    """Arrays and numbers that an argument of some kind consists of."""
    members: list[Any] | None = getattr(kind, "types", None)
    return [kind] if members is None else [one for member in members for one in _members(member)]


def _is_array(kind: Any) -> bool:
    return isinstance(kind, types.Array)


def _wide(kind: Any) -> Any:
    """How a number is handed over."""
    return ir.DoubleType() if kind is types.float64 else ir.IntType(64)


def _kind(argument: Any) -> Any:
    """numba's type of what is handed over: arrays are contiguous, all numbers of 64 bits."""
    if isinstance(argument, np.ndarray):
        return types.Array(numba.from_dtype(argument.dtype), argument.ndim, "C")
    if isinstance(argument, tuple):
        named = type(argument) if hasattr(argument, "_fields") else None
        return types.BaseTuple.from_types([_kind(one) for one in argument], named)
    return types.float64 if isinstance(argument, float) else types.int64


def _called(name: str) -> str:
    """The function that a declared one calls; none for most of those that the compiler has a word for."""
    if not name.startswith("llvm."):
        return name
    word = name.split(".")[1]
    return word if word in MATHEMATICAL else ""


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

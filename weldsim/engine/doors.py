"""Doors into the compiled code: what Python calls, without loading the compiler where the code is kept already.

numba would be loaded for every command, and for every function write one more that takes apart what Python hands over:
a third of the time that an answer takes, and a fifth of all compiling.  So functions are compiled without that, and
their machine code is kept as it is, one file a function.  Each is called through an entry of its own (``compiled.py``)
with all that it is handed over in one row: numbers of eight bytes, and the addresses of arrays, as Python and numpy lay
them out in memory (their binary interface, which extensions rely on).

A file of kept code is the sum of what follows, a line of JSON, and machine code.  It is used only if the sum is right,
by the processor and for the function that it was made for, and where all that it calls is there; otherwise the function
is compiled anew.  The folder is named after a digest of all that is compiled (see ``kept.py``), so that code never is
older than its source.
"""

import contextlib
import ctypes
import hashlib
import importlib
import json
import os
import struct
import tempfile
from collections.abc import Callable
from functools import cache
from operator import is_
from pathlib import Path
from typing import Any

import llvmlite.binding as llvm
import numpy as np

from weldsim.engine.kept import cache_folder

RETURNED: dict[str, Any] = {"int64": ctypes.c_int64, "float64": ctypes.c_double, "bool": ctypes.c_int8}
CALLED = ("memcpy", "memmove", "memset")  # by any code, whether it says so or not
ENTRY = "weldsim_entry"
SCATTERED = 1000  # status: an array is not contiguous
# Where numpy's arrays have what belongs to them (PyArrayObject_fields of its C interface), behind Python's own head.
PLACES = {
    name: object.__basicsize__ + place for name, place in (("data", 0), ("shape", 16), ("strides", 24), ("flags", 48))
}
NUMBERS = {np.dtype(float): "d", np.dtype(np.int64): "q"}
SUFFIX = ".code"

_whole, _real = struct.Struct("=q").pack, struct.Struct("=d").pack
_KINDS = {(kind, deep): f"{letter}{deep}" for kind, letter in NUMBERS.items() for deep in range(8)}
_ENGINES: list[Any] = []  # hold the code that has been loaded


class Door:
    """One function of the compiled code, by its module in this folder and its name; called like that function.

    Arrays must be contiguous, and are written to even where numpy forbids it; whole numbers go as 64 bits.  Where numba
    is told not to compile, it is plain Python.

    Raises
    ------
    TypeError : an argument is no number, contiguous array or tuple of these.
    struct.error : a whole number has more than 64 bits.
    ArithmeticError : the function has divided by zero.
    """

    def __init__(self, module: str, name: str) -> None:
        self.module, self.name = module, name
        self._known: dict[str, Callable[[bytes], Any]] = {}
        self._plain: Callable[..., Any] | None = None
        self._last: tuple[tuple[Any, ...], list[str], list[bytes], Callable[[bytes], Any]] = ((), [], [], _nothing)

    def __call__(self, *arguments: Any) -> Any:
        """Call the function."""
        if self._plain is not None:
            return self._plain(*arguments)
        before, kinds, row, call = self._last
        if len(arguments) == len(before):  # most are those of the last call: only the others are looked at
            row = row.copy()
            for place, same in enumerate(map(is_, arguments, before)):
                if not same:
                    kind, row[place] = _taken_apart(arguments[place])
                    if kind != kinds[place]:
                        break
            else:
                self._last = arguments, kinds, row, call
                return call(b"".join(row))
        kinds, row = _all_taken_apart(arguments)
        key = " ".join(kinds)
        found = self._known.get(key) or self._find(key, arguments)
        if found is None:
            return self(*arguments)
        self._last = arguments, kinds, row, found
        return found(b"".join(row))

    def prepare(self, *arguments: Any) -> None:
        """Have the function ready for arguments like these."""
        key = said_of(arguments)
        if key not in self._known:
            self._find(key, arguments)

    def _find(self, key: str, arguments: tuple[Any, ...]) -> Callable[[bytes], Any] | None:
        """The code for arguments of these kinds, kept or compiled; None where numba is told not to compile."""
        folder, whole = cache_folder(), f"{self.module}.{self.name} {key}"
        digest = hashlib.sha256(whole.encode()).hexdigest()[:16]
        path = folder and folder / f"{self.module}.{self.name}-{digest}{SUFFIX}"
        call = _compiles() and path and _loaded(_content(path), whole) or self._compiled(whole, arguments, path)
        if call is None:
            self._plain = self._function()
        else:
            self._known[key] = call
        return call

    def _function(self) -> Any:
        """The function as its module has it."""
        return getattr(importlib.import_module(f"weldsim.engine.{self.module}"), self.name)

    def _compiled(self, whole: str, arguments: tuple[Any, ...], path: Path | None) -> Callable[[bytes], Any] | None:
        """The code compiled, and kept where there is a place for it; None for what is plain Python."""
        made = self._made(whole, arguments)
        if made is None:
            return None
        about = {"function": whole, "processor": _processor(), "returns": made.returns, "calls": made.calls}
        kept = summed(json.dumps(about | {"entry": len(made.entry)}).encode() + b"\n" + made.entry + made.code)
        if path:
            _keep(path, kept)
        call = _loaded(kept, whole)
        if call is None:
            raise RuntimeError(f"compiled code calls what is not there, one of {', '.join(made.calls)}")
        return call

    def _made(self, whole: str, arguments: tuple[Any, ...]) -> Any:
        """Machine code, from what is shipped or else from the source; None for what is plain Python."""
        from weldsim.engine.machine import machine_code, shipped

        kinds = whole.partition(" ")[2]
        with contextlib.suppress(RuntimeError):  # an older LLVM, which cannot read what is shipped
            ready = shipped(whole) if _compiles() else None
            if ready is not None:
                return machine_code(ready, kinds)
        function = self._function()
        if not hasattr(function, "py_func"):
            return None
        from weldsim.engine.compiled import intermediate

        return machine_code(intermediate(function, arguments), kinds)


def _nothing(_: bytes) -> None:
    """What was called before the first call."""


@cache
def door(module: str, name: str) -> Door:
    """The door to one function of the compiled code."""
    return Door(module, name)


def _compiles() -> bool:
    """Whether numba is surely not told to leave everything as Python."""
    return os.environ.get("NUMBA_DISABLE_JIT", "0") in {"", "0"}


def _all_taken_apart(arguments: tuple[Any, ...]) -> tuple[list[str], list[bytes]]:
    """Which kinds of arguments these are, and the row that the machine is handed over for them."""
    taken = [_taken_apart(one) for one in arguments]
    return [kind for kind, _ in taken], [part for _, part in taken]


def said_of(arguments: tuple[Any, ...]) -> str:
    """The kinds of arguments, in words."""
    return " ".join(_all_taken_apart(arguments)[0])


def _taken_apart(one: Any) -> tuple[str, bytes]:
    """Kind of one argument, and what goes into the row for it."""
    kind = type(one)
    if kind is np.ndarray:
        known = _KINDS.get((one.dtype, one.ndim))
        if known is None:
            raise TypeError(f"an array of {one.dtype} in {one.ndim} dimensions goes to compiled code")
        return known, _whole(id(one))
    if kind is int:
        return "i", _whole(one)
    if kind is float:
        return "f", _real(one)
    if isinstance(one, tuple):
        memory = getattr(one, "__dict__", {})  # of a tuple that has room for it
        if "taken apart" not in memory:
            parts = [_taken_apart(member) for member in one]
            name = " ".join((f"{kind.__name__}(", *(part[0] for part in parts), ")"))
            memory["taken apart"] = name, b"".join(part[1] for part in parts)
        found: tuple[str, bytes] = memory["taken apart"]
        return found
    if isinstance(one, int | np.integer):
        return "i", _whole(int(one))
    if isinstance(one, float):
        return "f", _real(one)
    raise TypeError(f"{kind.__name__} goes to compiled code")


@cache
def _processor() -> str:
    """Name and abilities of this processor, and where this Python has what belongs to an array."""
    return f"{llvm.get_host_cpu_name()} {abilities()} {PLACES}"


def abilities() -> str:
    """What this processor can do, as LLVM writes it; nothing where it does not know."""
    with contextlib.suppress(RuntimeError):
        return llvm.get_host_cpu_features().flatten()
    return ""


def _content(path: Path) -> bytes:
    """What a file holds; nothing where there is none that can be read."""
    try:
        return path.read_bytes()
    except OSError:
        return b""


def _keep(path: Path, kept: bytes) -> None:
    """Write a function's file, whole or not at all; a folder that cannot be written to is left alone."""
    with contextlib.suppress(OSError):
        handle, name = tempfile.mkstemp(dir=path.parent, prefix=path.stem)
        try:
            with os.fdopen(handle, "wb") as file:
                file.write(kept)
            os.replace(name, path)
        finally:
            with contextlib.suppress(OSError):
                os.unlink(name)


def summed(content: bytes) -> bytes:
    """What is kept: its sum, and the content itself."""
    return hashlib.sha256(content).hexdigest().encode() + b"\n" + content


def _loaded(kept: bytes, whole: str) -> Callable[[bytes], Any] | None:
    """A function that calls kept code with a row of bytes; None for code that is damaged or cannot be used here."""
    content = kept.partition(b"\n")[2]
    if kept != summed(content):
        return None
    head, _, code = content.partition(b"\n")
    about = json.loads(head)
    if (about["function"], about["processor"]) != (whole, _processor()):
        return None
    returns, calls, entry = about["returns"], about["calls"], about["entry"]
    llvm.initialize_native_target()
    llvm.initialize_native_asmprinter()
    machine = llvm.Target.from_default_triple().create_target_machine()
    engine = llvm.create_mcjit_compiler(llvm.parse_assembly(""), machine)
    if not _all_there(calls) and not _all_there_with_numba(calls):
        return None
    for part in (code[:entry], code[entry:]):
        engine.add_object_file(llvm.ObjectFileRef.from_data(part))
    engine.finalize_object()
    address = engine.get_function_address(ENTRY)
    _ENGINES.append(engine)
    result, gives, by = RETURNED.get(returns, ctypes.c_int64), returns in RETURNED, ctypes.byref
    enter = ctypes.CFUNCTYPE(ctypes.c_int32, ctypes.c_char_p, ctypes.c_void_p)(address)

    def call(row: bytes) -> Any:
        answer = result()
        status = enter(row, by(answer))
        if status == SCATTERED:
            raise TypeError("an array that is not contiguous goes to compiled code")
        if status != 0:
            raise ArithmeticError("compiled code divides by zero")
        return answer.value if gives else None

    return call


def _all_there(calls: list[str]) -> bool:
    """Whether this process has all functions that some code calls: what is missing would end it."""
    return all(llvm.address_of_symbol(name) for name in (*calls, *CALLED))


def _all_there_with_numba(calls: list[str]) -> bool:
    """As ``_all_there``, once numba has been loaded and brought its own."""
    from numba.core.registry import cpu_target

    _ = cpu_target.target_context
    return _all_there(calls)

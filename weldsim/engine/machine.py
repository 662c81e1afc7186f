"""From the compiler's intermediate language to machine code for this processor; numba is not needed for that.

``intermediate.tar.xz`` in this folder holds each kernel function that Python calls as text in LLVM's intermediate
language, optimized, for no processor in particular: to make that of the sources takes numba some 30 s, to make machine
code of it two.  ``python -m tests.engine.write_intermediate`` writes the file anew.  It is used only if it was made of
the sources that stand beside it, and where this machine's LLVM can read it; else numba compiles the sources.
"""

import hashlib
import os
import struct
import sys
import tarfile
from functools import cache
from typing import Any

import llvmlite.binding as llvm
import numpy as np
from llvmlite import ir

from weldsim.engine.doors import ENTRY, PLACES, SCATTERED, abilities
from weldsim.engine.kept import SHIPPED, source_digest
from weldsim.frozen import dataclass

# Names in the archive: of what it was made, the least LLVM that reads it, and all that it was made with.
SOURCES, LEAST, VERSIONS = "sources", "least", "versions"
BODY = "weldsim_body"
# Functions of the mathematical library that the compiler has a word of its own for.
MATHEMATICAL = {"sin", "cos", "tan", "exp", "exp2", "log", "log2", "log10", "pow", "fma"}


@dataclass(frozen=True)
class Intermediate:
    """One function as ``BODY`` in LLVM's intermediate language, and numba's name of the type that it returns."""

    text: str
    returns: str


@dataclass(frozen=True)
class MachineCode:
    """A function as the machine has it: its code and that of the entry to it, what it returns and calls."""

    code: bytes
    entry: bytes
    returns: str
    calls: tuple[str, ...]


@cache
def _shipped() -> dict[str, bytes]:
    """What the archive holds, by name; nothing where it is none, or none of these sources or for this LLVM."""
    try:
        with tarfile.open(SHIPPED) as archive:
            found = {one.name: content.read() for one in archive if (content := archive.extractfile(one))}
    except Exception:  # whatever a damaged file gives: each layer of it has errors of its own
        return {}
    fits = found.get(SOURCES) == source_digest().encode() and llvm.llvm_version_info[0] >= int(found.get(LEAST, "0"))
    return found if fits else {}


def name_of(whole: str) -> str:
    """Name in the archive of a function for some kinds of arguments (see ``doors.py``)."""
    return f"{whole.split()[0]}-{hashlib.sha256(whole.encode()).hexdigest()[:16]}.ll"


def is_shipped() -> bool:
    """Whether numba has nothing to do, as far as can be told without machine code."""
    fits = struct.calcsize("P") == np.dtype(np.intp).itemsize == 8 and sys.byteorder == "little"
    return fits and bool(_shipped())


def shipped(whole: str) -> Intermediate | None:
    """A function from the archive; None where it is not there."""
    content = _shipped().get(name_of(whole)) if is_shipped() else None
    if content is None:
        return None
    returns, _, text = content.decode().partition("\n")
    return Intermediate(text, returns.removeprefix("; returns "))


def machine_code(made: Intermediate, kinds: str) -> MachineCode:
    """Machine code of a function for arguments of these kinds.

    Raises
    ------
    RuntimeError : this machine's LLVM does not understand the text.
    """
    llvm.initialize_native_target()
    llvm.initialize_native_asmprinter()
    machine = _machine(opt=1, processor=True)
    module = llvm.parse_assembly(made.text)
    module.triple, module.data_layout = llvm.get_process_triple(), str(machine.target_data)
    module.verify()
    calls = {_called(one.name) for one in module.functions if one.is_declaration}
    return MachineCode(machine.emit_object(module), _entry(kinds), made.returns, tuple(sorted(calls - {""})))


def _machine(*, opt: int, processor: bool) -> Any:
    """What makes code for this processor, or the one that numba is told to compile for."""
    chosen = {}
    if processor:
        chosen["cpu"] = os.environ.get("NUMBA_CPU_NAME") or llvm.get_host_cpu_name()
        features = os.environ.get("NUMBA_CPU_FEATURES")
        own = "" if os.environ.get("NUMBA_CPU_NAME") else abilities()
        chosen["features"] = own if features is None else features
    target = llvm.Target.from_default_triple()
    return target.create_target_machine(opt=opt, reloc="default", codemodel="jitdefault", jit=True, **chosen)


def _entry(kinds: str) -> bytes:
    """Code that calls a function of numba's with what a row holds: numbers, and the addresses of arrays.

    The function gives a status, and writes its result to where its first argument points, an error where its second
    does.  An array goes over as owner and parent (none here), count, size of an item, address, shape and strides, a
    tuple as its members.  To the machine an address is a whole number.
    """
    status, whole, real = ir.IntType(32), ir.IntType(64), ir.DoubleType()
    members = [kind for kind in kinds.split() if not kind.endswith("(") and kind != ")"]
    numbers = {"i": whole, "f": real}
    taken = [
        kind for one in members for kind in ([numbers[one]] if one in numbers else [whole] * (5 + 2 * int(one[1:])))
    ]
    module = ir.Module()
    module.triple = llvm.get_process_triple()
    called = ir.Function(module, ir.FunctionType(status, [whole, whole, *taken]), BODY)
    entry = ir.Function(module, ir.FunctionType(status, [whole, whole]), ENTRY)
    builder = ir.IRBuilder(entry.append_basic_block())

    def at(address: Any, place: int, kind: Any = whole) -> Any:
        there = builder.add(address, ir.Constant(whole, place))
        return builder.load(builder.inttoptr(there, kind.as_pointer()), align=1)

    error, even, given = builder.alloca(whole), ir.Constant(status, 1), []
    for place, one in enumerate(members):
        if one in numbers:
            given.append(at(entry.args[0], 8 * place, numbers[one]))
            continue
        array, axes = at(entry.args[0], 8 * place), range(int(one[1:]))
        data, shapes, strides = (at(array, PLACES[name]) for name in ("data", "shape", "strides"))
        even = builder.and_(even, at(array, PLACES["flags"], status))
        shape = [at(shapes, 8 * axis) for axis in axes]
        count = ir.Constant(whole, 1)
        for length in shape:
            count = builder.mul(count, length)
        nobody, size = ir.Constant(whole, 0), ir.Constant(whole, 8)
        given += [nobody, nobody, count, size, data, *shape, *(at(strides, 8 * axis) for axis in axes)]
    with builder.if_then(builder.icmp_signed("==", even, ir.Constant(status, 0))):
        builder.ret(ir.Constant(status, SCATTERED))
    builder.ret(builder.call(called, [entry.args[1], builder.ptrtoint(error, whole), *given]))
    made: bytes = _machine(opt=1, processor=False).emit_object(llvm.parse_assembly(str(module)))
    return made


def _called(name: str) -> str:
    """The function that a declared one calls; none for most of those that the compiler has a word for."""
    if not name.startswith("llvm."):
        return name
    word = name.split(".")[1]
    return word if word in MATHEMATICAL else ""

"""What of numba's compiling is left out here: half of the time that a first run takes.

numba optimizes every function and makes machine code of it, then does both again in each function that calls it.  What
only other compiled functions call is brought into the compiler's own language, no more; it is optimized where it is
linked in.  Passes that only rewrite what no function here holds (closures, expressions of whole arrays, branches on
the type of an argument) are not run, so that a variable has one type in all of a function.  And what type a built-in
function gives for some arguments, asked ten times of each, is remembered.
"""

import contextlib
from collections.abc import Iterator
from typing import Any

from numba import _dynfunc  # type: ignore[attr-defined]
from numba.core.compiler import Compiler
from numba.core.compiler_machinery import register_pass
from numba.core.typed_passes import IRLegalization, NativeLowering, NoPythonBackend, NopythonTypeInference
from numba.core.types.functions import BaseFunction
from numba.core.untyped_passes import FixupArgs, GenericRewrites, IRProcessing, TranslateByteCode

_FUNCTIONS: Any = BaseFunction
_plain_call_type = _FUNCTIONS.get_call_type
_KNOWN: dict[tuple[Any, ...], tuple[Any, Any]] = {}  # functions as well, so that no other gets the identity of one


@register_pass(mutates_CFG=True, analysis_only=False)
class _Lowering(NativeLowering):
    """numba's last step, without machine code; Python gets an empty shell, which it must not call."""

    _name = "weldsim_linked_lowering"

    def run_pass(self, state: Any) -> bool:
        """Lower a function into a library fit for linking."""
        library = state.targetctx.codegen().create_library(state.func_id.func_qualname)
        library.enable_object_caching()
        library._optimize_final_module = _nothing
        library._finalize_final_module = lambda: setattr(library, "_finalized", True)
        state.library, state.flags.no_compile = library, True
        super().run_pass(state)
        made, told = state["cr"], state["cr"].fndesc
        shell = _dynfunc.make_function(told.lookup_module(), told.qualname, "", 0, made.env, (library,))
        state.targetctx.insert_user_function(shell, told, [library])
        state["cr"] = made._replace(cfunc=shell)
        return True


def _nothing(_: Any = None) -> None:
    """Leave a module as it is."""


NEEDED = {
    TranslateByteCode,
    FixupArgs,
    IRProcessing,
    GenericRewrites,
    NopythonTypeInference,
    IRLegalization,
    NativeLowering,
    NoPythonBackend,
}


class Lean(Compiler):
    """numba's compiler, with the passes that are needed here."""

    def define_pipelines(self) -> list[Any]:
        """Its steps."""
        pipelines: list[Any] = super().define_pipelines()
        for pipeline in pipelines:
            pipeline.passes = [(step, said) for step, said in pipeline.passes if step in NEEDED]
        return pipelines


class Linked(Lean):
    """The same for what is only linked."""

    def define_pipelines(self) -> list[Any]:
        """Its steps."""
        pipelines = super().define_pipelines()
        for pipeline in pipelines:
            pipeline.passes = [(_Lowering if step is NativeLowering else step, said) for step, said in pipeline.passes]
        return pipelines


@contextlib.contextmanager
def remembering() -> Iterator[None]:
    """Have numba remember the types of calls of built-in functions; under its lock, since this is one for all."""
    before = _FUNCTIONS.get_call_type
    _FUNCTIONS.get_call_type = _call_type
    try:
        yield
    finally:
        _FUNCTIONS.get_call_type = before


def _call_type(function: Any, context: Any, arguments: Any, keywords: Any) -> Any:
    """As numba's ``get_call_type``."""
    if keywords:
        return _plain_call_type(function, context, arguments, keywords)
    key = id(function), id(context), tuple(arguments)
    if key not in _KNOWN:
        _KNOWN[key] = function, _plain_call_type(function, context, arguments, keywords)
    return _KNOWN[key][1]

"""Compiling what only other compiled functions call.

numba optimizes every function and makes machine code of it, then does both again in each function that calls it.  Here
such a function is only brought into the compiler's own language; it is optimized where it is linked in.  A sixth less
to compile.
"""

from typing import Any

from numba import _dynfunc  # type: ignore[attr-defined]
from numba.core.compiler import Compiler
from numba.core.compiler_machinery import register_pass
from numba.core.typed_passes import NativeLowering


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


def _nothing() -> None:
    """Leave a module as it is."""


class Linked(Compiler):
    """numba's compiler, with that last step."""

    def define_pipelines(self) -> list[Any]:
        """Its steps."""
        pipelines: list[Any] = super().define_pipelines()
        for pipeline in pipelines:
            pipeline.passes = [(_Lowering if step is NativeLowering else step, said) for step, said in pipeline.passes]
        return pipelines

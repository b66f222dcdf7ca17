"""Compile the kernels to machine code. Takes some ten seconds, once on a machine."""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence

import llvmlite.binding as llvm

from salvage.fit.kernels.cache import FROM_C

_OPTION = "NUMBA_OPT"


def build(names: Sequence[str], machine: llvm.TargetMachine) -> bytes:
    """The object code of the doors with these names.

    Left to itself the compiler would optimise each kernel once for itself and again within each that calls it. So
    it is told not to optimise, and all of them are optimised here, once, in one module.
    """
    module = _linked(names)
    kept = set(names)
    for function in module.functions:
        if not function.is_declaration:
            function.linkage = "external" if function.name in kept else "internal"
    tuning = llvm.create_pipeline_tuning_options(speed_level=3)
    tuning.loop_vectorization = tuning.slp_vectorization = True
    passes = llvm.create_pass_builder(machine, tuning)
    passes.getModulePassManager().run(module, passes)
    called = {f.name for f in module.functions if f.is_declaration and not f.name.startswith("llvm.")}
    unknown = sorted(called - set(FROM_C))
    if unknown:
        raise RuntimeError(f"the kernels call {unknown}, which nobody could link; see FROM_C")
    return bytes(machine.emit_object(module))


def _linked(names: Sequence[str]) -> llvm.ModuleRef:
    """All doors with what they call, not optimised, in one module."""
    from_outside = os.environ.get(_OPTION)
    if "numba" not in sys.modules:  # it reads its options when it is loaded
        os.environ[_OPTION] = "0"
    try:
        from salvage.fit.kernels.doors import compiled
    finally:
        if from_outside is None:
            os.environ.pop(_OPTION, None)
        else:
            os.environ[_OPTION] = from_outside
    module = None
    for name in names:
        text = compiled[name].inspect_llvm().replace(compiled[name].native_name, name)
        one = llvm.parse_assembly(text)
        if module is None:
            module = one
        else:
            module.link_in(one)
    assert module is not None
    return module

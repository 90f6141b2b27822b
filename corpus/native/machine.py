"""Machine code of kernels: made by LLVM for this processor, kept by who can keep it, loaded and called.

Making takes about a tenth of a second, loading a few milliseconds. What is kept is known by everything that it depends
on: the kernels' lines, those of the translator, LLVM's version, and the processor.
"""

import ctypes
import hashlib
import inspect
from collections.abc import Mapping, Sequence
from typing import Any, Protocol

import llvmlite
from llvmlite import binding

from corpus.native import language, translate
from corpus.native.translate import Kernel, module_of

_OPTIMIZATION = 2


class Keeper(Protocol):
    """Keeps machine code between processes."""

    def get(self, key: str) -> bytes | None:
        """What was kept under a key, None when there is nothing or it is damaged."""

    def put(self, key: str, code: bytes) -> None:
        """Keep code, if that can be done."""


class Loaded:
    """Kernels in memory, by name. They let go of the interpreter while they run."""

    def __init__(self, engine: Any, functions: Mapping[str, Any]) -> None:
        self._engine = engine
        """Owns the memory in which the functions stand."""
        self._functions = functions

    def call(self, name: str, *values: Any) -> int:
        """Call a kernel with whole numbers and arrays of numpy, which must lie in one piece and be of its types."""
        plain = [value if isinstance(value, int) else value.ctypes.data for value in values]
        found: int = self._functions[name](*plain)
        return found


def loaded(kernels: Sequence[Kernel], bits: int, keeper: Keeper | None = None) -> Loaded:
    """Kernels ready to be called, with lanes of so many bits; from the keeper where it has them."""
    binding.initialize_native_target()
    binding.initialize_native_asmprinter()
    machine = binding.Target.from_default_triple().create_target_machine(
        cpu=binding.get_host_cpu_name(),
        features=binding.get_host_cpu_features().flatten(),
        opt=_OPTIMIZATION,
        jit=True,
        codemodel="jitdefault",
    )
    key = _key(kernels, bits)
    code = None if keeper is None else keeper.get(key)
    if code is None:
        code = machine_code(kernels, bits, machine)
        if keeper is not None:
            keeper.put(key, code)
    engine = binding.create_mcjit_compiler(binding.parse_assembly(""), machine)
    engine.add_object_file(binding.object_file.ObjectFileRef.from_data(code))
    engine.finalize_object()
    return Loaded(engine, {kernel.__name__: _function(engine, kernel) for kernel in kernels})


def machine_code(kernels: Sequence[Kernel], bits: int, machine: Any) -> bytes:
    """An object file with the kernels."""
    module = binding.parse_assembly(str(module_of(kernels, bits)))
    module.verify()
    tuning = binding.create_pipeline_tuning_options(speed_level=_OPTIMIZATION)
    passes = binding.create_pass_builder(machine, tuning)
    passes.getModulePassManager().run(module, passes)
    code: bytes = machine.emit_object(module)
    return code


def _function(engine: Any, kernel: Kernel) -> Any:
    """A function of C with as many parameters as the kernel: numbers and addresses are both 64 bits wide."""
    kinds = [
        ctypes.c_int64 if parameter.annotation is int else ctypes.c_void_p
        for parameter in inspect.signature(kernel).parameters.values()
    ]
    return ctypes.CFUNCTYPE(ctypes.c_int64, *kinds)(engine.get_function_address(kernel.__name__))


def _key(kernels: Sequence[Kernel], bits: int) -> str:
    """Different whenever the code may differ."""
    parts = [
        llvmlite.__version__,
        binding.get_default_triple(),
        binding.get_host_cpu_name(),
        binding.get_host_cpu_features().flatten(),
        f"{bits} bits, level {_OPTIMIZATION}",
        *(inspect.getsource(module) for module in (language, translate)),
        *(inspect.getsource(inspect.getmodule(kernel) or kernel) for kernel in kernels),
    ]
    return hashlib.sha256("\0".join(parts).encode()).hexdigest()

"""The kernels' machine code: kept in the person's cache folder, so that it is compiled once on a machine."""

from __future__ import annotations

import contextlib
import ctypes
import hashlib
import logging
import os
import stat
import sys
import tempfile
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import llvmlite
import llvmlite.binding as llvm

from salvage.fit import clock

FOLDER = "SALVAGE_CACHE_DIR"  # names another folder to keep compiled code in
_DIGEST = 32  # bytes of SHA-256 before the code, so that a damaged file is known

log = logging.getLogger("salvage.once")
FROM_C = ("hypot", "sin", "cos", "sqrt", "memset", "memcpy", "memmove")  # what the kernels may call
# What machine code may call instead, on one system or another.
_INSTEAD = ("sincos", "__sincos_stret", "bzero", "__bzero", "__chkstk")
_C_LIBRARIES = ("ucrtbase",) if sys.platform == "win32" else (None, "libm.so.6", "libm.dylib")
_alive: list[Any] = []  # what the machine code needs as long as the process lives


def addresses(names: Sequence[str]) -> dict[str, int]:
    """Where the compiled functions lie, by name."""
    llvm.initialize_native_target()
    llvm.initialize_native_asmprinter()
    processor, features = llvm.get_host_cpu_name(), llvm.get_host_cpu_features().flatten()
    file = _folder() / f"search-{_fingerprint(names, processor, features)}.bin"
    code = _read(file)
    if code is None:
        with clock.stopped():
            log.warning(
                "compiling the search, once on this machine: it takes some 20 seconds, which --seconds doesn't count."
            )
            from salvage.fit.kernels.build import build

            code = build(names, _machine(processor, features))
            _keep(file, code)
    return _linked_in(code, names, _machine(processor, features))


def _machine(processor: str, features: str) -> llvm.TargetMachine:
    target = llvm.Target.from_triple(llvm.get_process_triple())
    # MCJIT needs static code on x86 and what the system likes elsewhere.
    static = llvm.get_process_triple().startswith(("x86", "i386", "i686"))
    return target.create_target_machine(
        cpu=processor, features=features, opt=3, reloc="static" if static else "default",
        codemodel="jitdefault", jit=True,
    )  # fmt: skip


def _tell_of_c() -> None:
    """Tell the linker where the functions of C lie that the code calls: what it can't find it takes to lie at 0."""
    for name in (*FROM_C, *_INSTEAD):
        address = next(filter(None, (_address_in(library, name) for library in _C_LIBRARIES)), None)
        if address is not None:
            llvm.add_symbol(name, address)
        elif name in FROM_C:
            raise RuntimeError(f"no function {name} in this system's C library")


def _address_in(library: str | None, name: str) -> int | None:
    try:
        return ctypes.cast(getattr(ctypes.CDLL(library), name), ctypes.c_void_p).value
    except (AttributeError, OSError, TypeError):
        return None


def _linked_in(code: bytes, names: Sequence[str], machine: llvm.TargetMachine) -> dict[str, int]:
    _tell_of_c()
    engine = llvm.create_mcjit_compiler(llvm.parse_assembly(""), machine)
    engine.add_object_file(llvm.ObjectFileRef.from_data(code))
    engine.finalize_object()
    _alive.append(engine)
    return {name: engine.get_function_address(name) for name in names}


def _fingerprint(names: Sequence[str], processor: str, features: str) -> str:
    """Changes with whatever the code depends on."""
    found = hashlib.sha256(
        repr((llvmlite.__version__, sys.version_info[:2], names, processor, features)).encode()
    )
    for source in sorted(Path(__file__).parent.glob("*.py")):
        found.update(source.read_bytes())
    return found.hexdigest()[:24]


def _folder() -> Path:
    named = os.environ.get(FOLDER)
    if named:
        return Path(named)
    if sys.platform == "win32":
        base = os.environ.get("LOCALAPPDATA")
    elif sys.platform == "darwin":
        base = os.path.expanduser("~/Library/Caches")
    else:
        base = os.environ.get("XDG_CACHE_HOME") or os.path.expanduser("~/.cache")
    return Path(base or tempfile.gettempdir()) / "salvage"


def _read(file: Path) -> bytes | None:
    """The code, where it is whole and nobody else could have put it there."""
    try:
        with file.open("rb") as stream:
            seen = os.fstat(stream.fileno())
            others = hasattr(os, "getuid") and (
                seen.st_uid not in (os.getuid(), 0) or seen.st_mode & (stat.S_IWGRP | stat.S_IWOTH)
            )
            data = b"" if others else stream.read()
    except OSError:
        return None
    digest, code = data[:_DIGEST], data[_DIGEST:]
    return code if code and hashlib.sha256(code).digest() == digest else None


def _keep(file: Path, code: bytes) -> None:
    """Write the code for the next time, whole or not at all; where that can't be done it is told, and no harm."""
    partial = None
    try:
        file.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
        handle, partial = tempfile.mkstemp(dir=file.parent, prefix=file.stem)
        with os.fdopen(handle, "wb") as stream:
            stream.write(hashlib.sha256(code).digest() + code)
        os.replace(partial, file)
    except OSError as error:
        log.warning(
            "the compiled search can't be kept in %s (%s), so it is compiled anew each time. Set %s to a folder "
            "that can be written.",
            file.parent, error.strerror, FOLDER,
        )  # fmt: skip
        if partial is not None:
            with contextlib.suppress(OSError):
                os.unlink(partial)

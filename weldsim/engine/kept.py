"""Where compiled code is kept: a folder named after a digest of all that it is made of, so that it cannot go stale.

A machine without a writable place compiles without keeping.  Nothing here loads the compiler.
"""

import contextlib
import hashlib
import importlib.util
import os
import sys
import tempfile
from functools import cache
from pathlib import Path

KERNEL_FILES = (
    "products.py",
    "kernel.py",
    "mode_kernel.py",
    "readout_kernel.py",
    "sample_kernel.py",
    "extremes_kernel.py",
    "wire_kernel.py",
    "fine_kernel.py",
)
HOW = ("layout.py", "wire_layout.py", "compiled.py", "linked.py")  # their constants, how they are compiled
SHIPPED = Path(__file__).with_name("intermediate.tar.xz")  # see machine.py
CALLED_BY = ("doors.py", "machine.py", SHIPPED.name)
CHOSEN = ("NUMBA_CPU_NAME", "NUMBA_CPU_FEATURES")  # for another processor than this one


def source_digest() -> str:
    """Digest of all kernel files and of how they are compiled."""
    digest = hashlib.sha256()
    for name in (*KERNEL_FILES, *HOW):
        with contextlib.suppress(OSError):
            digest.update(Path(__file__).with_name(name).read_bytes().replace(b"\r\n", b"\n"))
    return digest.hexdigest()


def kernel_digest() -> str:
    """Digest of all that machine code is made of, and of the versions that make it."""
    chosen = [os.environ.get(name) for name in CHOSEN]
    digest = hashlib.sha256(f"{source_digest()}{sys.version_info[:2]}{chosen}".encode())
    files = [Path(__file__).with_name(name) for name in CALLED_BY]
    for library in ("numba", "llvmlite"):
        found = importlib.util.find_spec(library)
        if found is not None and found.origin:
            files.append(Path(found.origin).with_name("_version.py"))
    for file in files:
        with contextlib.suppress(OSError):
            digest.update(file.read_bytes())
    return digest.hexdigest()[:16]


@cache
def cache_folder() -> Path | None:
    """A writable folder for compiled code, or None where the machine has none."""
    bases = [os.environ.get("WELDSIM_CACHE"), os.environ.get("XDG_CACHE_HOME")]
    with contextlib.suppress(RuntimeError):
        home = Path.home()
        bases.append(str(home / "AppData" / "Local") if os.name == "nt" else str(home / ".cache"))
    with contextlib.suppress(OSError):  # where there is no folder for what is passing either
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


def is_compiled_already() -> bool:
    """Whether the cache folder holds code, so that a first call will not have to compile."""
    folder = cache_folder()
    return folder is not None and any(folder.glob("*.code"))

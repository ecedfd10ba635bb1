"""The modules that a run spends its time in, compiled: the same sources, about twice as fast.

mypyc translates them, as they stand, to C, and the computer's compiler to machine code. What is compiled is kept in the
environment under a key of the sources and used instead of them from the next start on; with any source changed the
sources run again. Numbers are the same to the last bit (a test proves it). ``SIMKIT_SOURCES=1`` keeps to the sources.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Sequence
from importlib import import_module
from importlib.abc import Loader
from importlib.machinery import EXTENSION_SUFFIXES, ModuleSpec
from importlib.util import spec_from_file_location
from pathlib import Path
from types import ModuleType

from simkit.base.files import code_sha256

ROOT = Path(__file__).resolve().parent.parent
ROOMS = ("base", "plant", "process", "tooling", "cell")
"""Packages whose code the compiled modules know the types of."""
AS_SOURCES = ("trace",)
"""The module of the cell that stays Python: a log keeps its columns once made, which compiled classes cannot."""
BESIDE_THE_CELL = (
    "tooling/exchange", "tooling/pad", "tooling/toolroom", "tooling/sequence", "tooling/split",
    "tooling/turret", "tooling/wear", "tooling/searchinputs",
)  # fmt: skip
SHARED = "simkit_compiled"
LIBRARY = f"{SHARED}__mypyc"
"""The library that holds the code of all modules, by the name that the translator gives it."""
KEPT = 3
"""So many compiled states of the sources are kept in an environment."""
_NEEDS = "It needs mypy and setuptools (the extra 'compile') and a C compiler with Python's headers"


class CannotCompile(RuntimeError):
    """Compiling failed; the text says why. The sources run as before."""


def modules() -> list[Path]:
    """Source files of the modules that are compiled."""
    cell = (path for path in (ROOT / "cell").glob("*.py") if path.stem not in (*AS_SOURCES, "__init__"))
    return sorted([*cell, *(ROOT / f"{name}.py" for name in BESIDE_THE_CELL)])


def home() -> Path:
    """Folder for these sources, compiled for this Python."""
    return _shelf() / code_sha256(ROOT, ROOMS, f"{sys.implementation.cache_tag} {sys.platform}")[:20]


def _shelf() -> Path:
    return Path(sys.prefix) / "share" / "simkit" / "compiled"


def use() -> None:
    """From now on import the compiled modules, where there are some of the sources as they are."""
    if os.environ.get("SIMKIT_SOURCES") or not _shelf().is_dir():
        return
    folder = home()
    if folder.is_dir():
        sys.meta_path.insert(0, _Finder(folder))


def leave() -> None:
    """Import the sources from now on; what is imported by then stays."""
    sys.meta_path[:] = [finder for finder in sys.meta_path if not isinstance(finder, _Finder)]


def in_use() -> bool:
    """Whether the compiled modules are imported."""
    return any(isinstance(finder, _Finder) for finder in sys.meta_path)


class _Finder(Loader):
    """Finds the compiled modules, and the library that holds them, in one folder."""

    def __init__(self, folder: Path) -> None:
        self.library = folder / f"{LIBRARY}{EXTENSION_SUFFIXES[0]}"
        self.names = {".".join(path.relative_to(ROOT.parent).with_suffix("").parts) for path in modules()}

    def find_spec(
        self, name: str, path: Sequence[str] | None = None, target: ModuleType | None = None
    ) -> ModuleSpec | None:
        """How to load a module; None for one that is not compiled."""
        if name == LIBRARY:
            return spec_from_file_location(name, self.library)
        return spec_from_file_location(name, self.library, loader=self) if name in self.names else None

    def create_module(self, spec: ModuleSpec) -> ModuleType:
        """Let the library make a module: it keeps, in a capsule, the function that does."""
        import ctypes  # numpy loads it too, which a bare start of the kit does not need

        name = f"init_{spec.name.replace('.', '___')}"
        capsule = ctypes.py_object(getattr(import_module(LIBRARY), name))
        address = ctypes.pythonapi.PyCapsule_GetPointer
        address.restype = ctypes.c_void_p
        made: ModuleType = ctypes.PYFUNCTYPE(ctypes.py_object)(address(capsule, f"{LIBRARY}.{name}".encode()))()
        return made

    def exec_module(self, module: ModuleType) -> None:
        """Do nothing: what the library makes has run."""


def compile_or_tell() -> bool:
    """Compile the sources unless that was done, and print what came of it; False where they cannot be compiled."""
    try:
        print(f"The cell is compiled: {compile_modules()}")
    except CannotCompile as error:
        print(f"The cell is not compiled, and runs as before: {error}.", file=sys.stderr)
        return False
    return True


def compile_modules() -> Path:
    """Compile the sources as they are, unless that was done; return the folder. Raises :class:`CannotCompile`."""
    folder = home()
    if folder.is_dir():
        return folder
    with tempfile.TemporaryDirectory() as made:
        _python("-m", "simkit.base.compiling", made, *map(str, modules()), SIMKIT_SOURCES="1")
        try:
            _keep(Path(made) / "compiled", folder)
        except OSError as error:
            raise CannotCompile(f"nothing can be kept in {folder.parent}: {error}") from error
    try:
        _python("-c", "import simkit.cell.clock", SIMKIT_SOURCES="")
    except CannotCompile:
        shutil.rmtree(folder)
        raise
    return folder


def _python(*asked: str, **more: str) -> None:
    """Let another Python do something with these sources."""
    told = {**os.environ, "PYTHONPATH": str(ROOT.parent), **more}
    done = subprocess.run([sys.executable, *asked], env=told, capture_output=True, text=True, check=False)
    if done.returncode:
        said = (done.stderr or done.stdout).strip().splitlines()
        raise CannotCompile(f"{said[-1] if said else 'no word of why'}. {_NEEDS}")


def _keep(made: Path, folder: Path) -> None:
    """Put what was made into its folder, whole, and let go of the oldest of its like."""
    folder.parent.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(dir=folder.parent) as part:
        shutil.copytree(made, Path(part) / "whole")
        if not folder.is_dir():
            (Path(part) / "whole").rename(folder)
    for old in sorted(folder.parent.iterdir(), key=lambda path: path.stat().st_mtime)[:-KEPT]:
        shutil.rmtree(old, ignore_errors=True)

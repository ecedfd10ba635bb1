"""Translate modules to C with mypyc and compile them: ``python -m simkit.base.compiling FOLDER FILE ...``.

A process of its own, since the translator ends its process on an error.
"""

from __future__ import annotations

import os
import sys
import sysconfig
from concurrent.futures import ThreadPoolExecutor
from functools import partial
from importlib.machinery import EXTENSION_SUFFIXES
from pathlib import Path

from simkit.base.compiled import ROOT, SHARED

SETTINGS = """[mypy]
python_version = {version}
mypy_path = {root}
follow_imports = silent
ignore_missing_imports = True
[mypy-simkit.desk.*,pandas.*,scipy.*,matplotlib.*,rich.*,IPython.*,dask.*]
follow_imports = skip
"""
EXACT = "-ffp-contract=off"
"""No two operations in one, whose last bit would be another."""


def translate_and_compile(folder: Path, files: list[str]) -> None:
    """Put the compiled modules into ``folder``/compiled."""
    from mypyc.build import mypycify
    from setuptools._distutils.ccompiler import new_compiler
    from setuptools._distutils.sysconfig import customize_compiler

    settings = folder / "mypy.ini"
    settings.write_text(SETTINGS.format(version="{}.{}".format(*sys.version_info), root=ROOT.parent))
    extensions = mypycify(
        [f"--config-file={settings}", "--cache-dir=/dev/null", *files],
        group_name=SHARED, opt_level="1", debug_level="0", multi_file=True, target_dir=str(folder / "c"),
    )  # fmt: skip
    compiler = new_compiler()
    customize_compiler(compiler)
    headers = [sysconfig.get_path("include"), sysconfig.get_path("platinclude")]
    library = extensions[0]  # the others only look into it, as simkit.base.compiled does without them
    one = partial(
        compiler.compile, output_dir=str(folder / "o"), include_dirs=[*library.include_dirs, *headers],
        extra_postargs=[*library.extra_compile_args, EXACT],
    )  # fmt: skip
    longest_first = sorted(library.sources, key=os.path.getsize, reverse=True)
    with ThreadPoolExecutor(os.cpu_count()) as pool:
        objects = [made for part in pool.map(lambda source: one([source]), longest_first) for made in part]
    target = folder / "compiled" / (library.name + EXTENSION_SUFFIXES[0])
    compiler.link_shared_object(objects, str(target), library_dirs=[sysconfig.get_config_var("LIBDIR")])


if __name__ == "__main__":
    translate_and_compile(Path(sys.argv[1]), sys.argv[2:])

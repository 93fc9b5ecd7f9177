"""What the core may import, and that its examples are true."""

from __future__ import annotations

import ast
import doctest
import importlib
import pkgutil
import subprocess
import sys
from pathlib import Path

import pytest

import tackwright.core

ROOT = Path(tackwright.core.__path__[0]).parent
MODULES = sorted(m.name for m in pkgutil.walk_packages(tackwright.core.__path__, "tackwright.core."))

IMPORT_ALL = """
import importlib, sys
for name in {barred!r}:
    sys.modules[name] = None            # importing it raises ImportError
for name in {modules!r}:
    importlib.import_module(name)
print("imported", len({modules!r}))
"""


def run(barred):
    code = IMPORT_ALL.format(barred=barred, modules=MODULES)
    return subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)


def test_the_core_is_imported_without_the_editor_and_the_extras():
    # in a fresh process: another test may have imported them here
    done = run(["bpy", "bmesh", "mathutils", "gpu", "trimesh", "plyfile", "tqdm", "scipy", "networkx"])
    assert done.returncode == 0, done.stderr
    assert done.stdout.split() == ["imported", str(len(MODULES))]
    assert len(MODULES) > 15


def test_a_barred_module_would_be_noticed():
    done = run(["numpy"])
    assert done.returncode != 0 and "numpy" in done.stderr


@pytest.mark.parametrize("folder", ["core", "addon"])
def test_the_package_never_names_itself(folder):
    # It is imported as `tackwright` by Python and under a longer name by the editor: only relative imports fit both.
    named = []
    for path in sorted((ROOT / folder).rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Import):
                names = [alias.name for alias in node.names]
            elif isinstance(node, ast.ImportFrom) and node.level == 0:
                names = [node.module or ""]
            else:
                continue
            named += [(path.name, n) for n in names if n.split(".")[0] in ("tackwright", "core", "addon", "bl_ext")]
    assert named == []


@pytest.mark.parametrize("name", MODULES)
def test_the_examples_in_docstrings_are_true(name):
    assert doctest.testmod(importlib.import_module(name)).failed == 0


def test_there_are_examples_to_try():
    tried = sum(doctest.testmod(importlib.import_module(name)).attempted for name in MODULES)
    assert tried >= 5

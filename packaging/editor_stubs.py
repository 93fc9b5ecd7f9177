"""The editor's types for mypy: a copy of fake-bpy-module's, with what it leaves out and what the extension adds.

    python packaging/editor_stubs.py build/stubs

The extension hangs groups of settings at the editor's objects, scenes and collections. Where it does so is read from
its modules; so the types of those groups are known, and a setting that does not exist is found.
"""

from __future__ import annotations

import ast
import re
import shutil
import sys
import sysconfig
from collections import defaultdict
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Final

ROOT: Final = Path(__file__).resolve().parent.parent
PLAIN: Final = {"BoolProperty": "bool", "FloatProperty": "float", "IntProperty": "int", "StringProperty": "str"}

LEFT_OUT: Final = {
    "AddonPreferences": ("active_material", "materials", "new_shop"),   # the extension's own: lower rooms ask too
    "Attribute": ("data",),                             # each kind of attribute has its own
    "Property": ("default",),                           # and each kind of property
}
"""Attributes that only some kinds of a class have, where the editor gives whatever kind there is. Taken for Any."""

MENDED: Final = {
    # What is drawn into a menu gets the menu too.
    "_bpy_types": ((r"Callable\[\[Context\], None\]", "Callable[..., None]"),),
    "bpy/app/handlers": ((r"^persistent: typing\.Any", "def persistent[F](function: F, /) -> F: ..."),),
    "bpy/ops": ((r"^from \. import wm as wm\n", r"\g<0>import typing\ntackwright: typing.Any\n"),),
    # Where a property hangs, it is not what says that it shall.
    "bpy/props": ((r"\) -> _PropertyDeferred:", ") -> typing.Any:"),),
    "bpy/types": (
        # An area is asked what it shows where it is known to be a 3D view.
        (r"-> None \| Space \| None:", "-> typing.Any:"),
        # What is looked up is there or is not, as in a dict.
        (r"^    def get\[_GenericType2\]\((.*\n.*) = None\n    \) -> _GenericType2 \| None:",
         r"    def get[_GenericType2](\1 = ...\n    ) -> _GenericType1 | _GenericType2 | None:"),
        (r"^class ContextTempOverride:\n",
         r"\g<0>    def __enter__(self) -> None: ...\n    def __exit__(self, *_: object) -> None: ...\n"),
        # Arrays are sequences, and a tuple may be put where one is.
        (r"^class bpy_prop_array\(bpy_prop\):", "class bpy_prop_array[T](bpy_prop, collections.abc.Sequence[T]):"),
        (r"^(    (?:color|mesh_select_mode)): bpy_prop_array\[\w+\]", r"\1: typing.Any"),
    ),
    "mathutils": (
        (r"^class (Vector):\n", r"class \1(collections.abc.Sequence[float]):\n"),
        (r"^class Matrix:\n", "class Matrix(collections.abc.Sequence[Vector]):\n"),
        (r"^class MatrixAccess:\n", "class MatrixAccess(tuple[Vector, ...]):\n"),
        # The cross product of two vectors in the plane is a number; the extension's are in space.
        (r"-> float \| typing_extensions\.Self:", "-> typing_extensions.Self:"),
    ),
}
"""What the types say otherwise than the editor does: for a module, a pattern and what stands there instead."""


def added(addon: Path) -> Iterator[tuple[str, str, str]]:
    """Class of the editor, attribute, its type: for every property that a module registers there."""
    for path in sorted(addon.rglob("*.py")):
        module = ".".join(("tackwright", *path.relative_to(ROOT).with_suffix("").parts))
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if not isinstance(node, ast.Assign) or not isinstance(node.value, ast.Call):
                continue
            found = re.fullmatch(r"bpy\.types\.(\w+)\.(\w+)", ast.unparse(node.targets[0]))
            if found is None:
                continue
            kind = ast.unparse(node.value.func).rpartition(".")[2]
            group = next((word.value for word in node.value.keywords if word.arg == "type"), None)
            yield found[1], found[2], PLAIN[kind] if group is None else f"{module}.{ast.unparse(group)}"


def put(text: str, pattern: str, instead: str) -> str:
    """The text with what stands there instead. Raises ValueError where the pattern is nowhere: the types are others."""
    text, count = re.subn(pattern, instead, text, flags=re.MULTILINE)
    if not count:
        raise ValueError(f"The editor's types have nothing like {pattern}")
    return text


def with_more(text: str, more: Mapping[str, Mapping[str, str]]) -> str:
    """The types with more attributes, by class and name."""
    modules = {kind.rpartition(".")[0] for kinds in more.values() for kind in kinds.values()} - {"", "typing"}
    for name, attributes in more.items():
        lines = "".join(f"    {attribute}: {kind}\n" for attribute, kind in attributes.items())
        text = put(text, rf"^class {name}\(.*:\n", rf"\g<0>{lines}")
    return put(text, r"\A", "".join(f"import {module}\n" for module in sorted(modules)))


def main(out: Path) -> None:
    """Write them into a folder."""
    more: dict[str, dict[str, str]] = defaultdict(dict)
    for name, attributes in LEFT_OUT.items():
        more[name] = dict.fromkeys(attributes, "typing.Any")
    for name, attribute, kind in added(ROOT / "addon"):
        more[name][attribute] = kind
    for package in ("_bpy_types", "bpy", "mathutils"):
        shutil.copytree(Path(sysconfig.get_path("purelib")) / f"{package}-stubs", out / package, dirs_exist_ok=True)
    for module, changes in MENDED.items():
        path = out / module / "__init__.pyi"
        text = path.read_text(encoding="utf-8")
        for pattern, instead in changes:
            text = put(text, pattern, instead)
        path.write_text(with_more(text, more) if module == "bpy/types" else text, encoding="utf-8")


if __name__ == "__main__":
    main(Path(sys.argv[1]))

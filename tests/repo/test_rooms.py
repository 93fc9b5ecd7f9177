"""The order of the rooms: a room imports only from itself and from rooms before it, and no module imports itself by way
of others. Every import counts, also one inside a function and one for the types alone."""

from __future__ import annotations

import ast
import graphlib
import tomllib
from pathlib import Path
from typing import NamedTuple

import pytest
from repo_paths import ROOT

ORDER = {
    half: (*rooms, "")
    for half, rooms in tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["tool"]["tackwright"][
        "rooms"].items()
}
"""Bottom up; "" is the road itself, in the folder of the half."""


class Import(NamedTuple):
    """Where (file, line), and the dotted modules from the package's root: who imports what."""

    place: str
    module: str
    target: str


def module_of(path: Path) -> str:
    parts = path.relative_to(ROOT).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def imports_of(path: Path, text: str, modules: set[str]) -> list[Import]:
    """All imports of the package's own modules, from anywhere in a file."""
    module = module_of(path)
    package = module if path.name == "__init__.py" else module.rpartition(".")[0]
    found = []
    for node in ast.walk(ast.parse(text)):
        if not isinstance(node, ast.ImportFrom) or not node.level:
            continue
        parts = package.split(".") if package else []
        base = ".".join([*parts[: len(parts) - (node.level - 1)], *(node.module or "").split(".")]).strip(".")
        targets = {f"{base}.{name.name}" for name in node.names} & modules
        if len(targets) < len(node.names) and base != module:
            targets.add(base)
        found += [Import(f"{path.relative_to(ROOT)}:{node.lineno}", module, one) for one in sorted(targets)]
    return found


def sources(half: str) -> list[Path]:
    return sorted((ROOT / half).rglob("*.py"))


def room_of(module: str, half: str) -> str | None:
    """The room of a module of the half, "" for one beside the rooms; None for one of the other half."""
    parts = module.split(".")
    if parts[0] != half:
        return None
    return parts[1] if len(parts) > 1 and (ROOT / half / parts[1]).is_dir() else ""


def out_of_order(half: str, order: tuple[str, ...], imports: list[Import]) -> list[str]:
    wrong = []
    for place, module, target in imports:
        own, other = room_of(module, half), room_of(target, half)
        if own is not None and other is not None and order.index(other) > order.index(own):
            wrong.append(f"{place}: {module} imports {target}, of a later room")
    return wrong


def all_imports(half: str) -> list[Import]:
    paths = sources(half)
    modules = {module_of(path) for part in ("core", "addon") for path in sources(part)}
    return [one for path in paths for one in imports_of(path, path.read_text(encoding="utf-8"), modules)]


@pytest.mark.parametrize(("half", "order"), ORDER.items())
def test_rooms_import_only_from_rooms_before_them(half, order):
    assert {path.name for path in (ROOT / half).iterdir() if (path / "__init__.py").exists()} == set(order) - {""}
    assert out_of_order(half, order, all_imports(half)) == []


def test_the_core_knows_nothing_of_the_editor():
    imports = all_imports("core")
    assert [one.place for one in imports if not one.target.startswith("core")] == []
    assert len(imports) > 600


@pytest.mark.parametrize("half", ["core", "addon"])
def test_no_module_imports_itself_by_way_of_others(half):
    graph: dict[str, set[str]] = {}
    for one in all_imports(half):
        if one.target != one.module and one.target not in ("core", "addon"):
            graph.setdefault(one.module, set()).add(one.target)
    try:
        tuple(graphlib.TopologicalSorter(graph).static_order())
    except graphlib.CycleError as circle:
        pytest.fail(f"a circle of imports: {' imports '.join(reversed(circle.args[1]))}")


@pytest.mark.parametrize(
    ("text", "wrong"),
    [
        ("from ..kit.kit import Kit\n", "core.kit.kit"),
        ("from ..kit import kit\n", "core.kit.kit"),
        ("def f():\n    from ..files import job\n", "core.files.job"),
        ("if TYPE_CHECKING:\n    from .. import make_kit\n", "core.make_kit"),
        ("from ..terms.errors import InputError\n", None),
        ("from .tabs import Tab\n", None),
    ],
)
def test_an_import_out_of_order_would_be_named(text, wrong):
    modules = {module_of(path) for path in sources("core")}
    imports = imports_of(ROOT / "core" / "plates" / "joints.py", text, modules)
    named = out_of_order("core", ORDER["core"], imports)
    place = f"core/plates/joints.py:{text.count(chr(10))}: core.plates.joints"
    assert named == ([f"{place} imports {wrong}, of a later room"] if wrong else [])


def public_names(path: Path) -> set[str]:
    """A module's own name, and the functions and classes at its top that others may ask for."""
    body = ast.parse(path.read_text(encoding="utf-8")).body
    kinds = (ast.ClassDef, ast.FunctionDef, ast.AsyncFunctionDef)
    return {path.stem} | {node.name for node in body if isinstance(node, kinds) and not node.name.startswith("_")}


def test_no_name_stands_in_both_halves():
    """A word means one thing: what the editor does with a thing of the core has a name of its own."""
    core, addon = (
        {name for path in sources(half) if path.name != "__init__.py" for name in public_names(path)}
        for half in ("core", "addon")
    )
    assert {"plates", "Kit", "make_kit"} <= core and {"live", "register"} <= addon
    assert sorted(core & addon) == []

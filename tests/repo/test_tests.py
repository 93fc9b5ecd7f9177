"""Tests lean on tests/support, never on each other."""

import ast

import pytest
from repo_paths import ROOT

TESTS = sorted((ROOT / "tests").rglob("test_*.py"))


@pytest.mark.parametrize("path", TESTS, ids=lambda path: path.parent.name + "/" + path.stem)
def test_no_test_imports_another(path):
    names = {one.stem for one in TESTS}
    nodes = ast.walk(ast.parse(path.read_text(encoding="utf-8")))
    lines = [node.lineno for node in nodes if isinstance(node, ast.ImportFrom) and node.module in names]
    assert lines == []


def test_the_tests_of_each_room_of_the_core_have_its_name():
    rooms = {one.name for one in (ROOT / "core").iterdir() if (one / "__init__.py").exists()}
    folders = {one.name for one in (ROOT / "tests").iterdir() if one.is_dir() and one.name != "__pycache__"}
    assert folders - rooms == {"addon", "bench", "data", "laws", "repo", "support", "window"}
    assert rooms - folders == set()

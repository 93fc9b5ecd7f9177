"""Every tolerance has a name that says why it is as large as it is: none stands bare in an expression."""

import ast

import pytest
from repo_paths import ROOT

LARGEST = 0.02
"""Numbers above are shares and multiples that the line itself explains."""
MODULES = sorted((ROOT / "core").rglob("*.py"))


def bare(tree):
    """Small numbers within functions: lines and values. Defaults of parameters say what they are by their names."""
    for function in ast.walk(tree):
        if isinstance(function, ast.FunctionDef | ast.Lambda):
            body = function.body if isinstance(function.body, list) else [function.body]
            for node in (node for part in body for node in ast.walk(part)):
                if isinstance(node, ast.Constant) and isinstance(node.value, float) and 0 < abs(node.value) < LARGEST:
                    yield node.lineno, node.value


@pytest.mark.parametrize("path", MODULES, ids=lambda path: path.stem)
def test_tolerances_have_names(path):
    assert sorted(set(bare(ast.parse(path.read_text(encoding="utf-8"))))) == []


def test_a_bare_one_would_be_found():
    assert list(bare(ast.parse("LEAST = 1e-6\ndef f(x, y=1e-3):\n    return x > 1e-6 or x < 0.5\n"))) == [(3, 1e-6)]


def test_those_in_the_one_place_have_their_reasons():
    tree = ast.parse((ROOT / "core" / "terms" / "tolerance.py").read_text(encoding="utf-8"))
    names = [node for node in tree.body if isinstance(node, ast.AnnAssign)]
    reasons = [node for node in tree.body[1:] if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant)]
    assert len(names) == len(reasons) > 25

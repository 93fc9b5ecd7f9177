"""The shape of the house, as DEVELOPERS.md has it: how long files and functions are, how many parameters and branches
functions have, how many files a room has, and who imports from whom.

    python packaging/shape.py

Complexity is McCabe's, counted by ruff.
"""

from __future__ import annotations

import ast
import json
import statistics
import subprocess
import sys
import tomllib
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import Final, NamedTuple

ROOT: Final = Path(__file__).resolve().parent.parent
HALVES: Final = ("core", "addon")
LINES: Final = 60
PARAMETERS: Final = 7
COMPLEXITY: Final = 15
ORDER: Final = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["tool"]["tackwright"]["rooms"]


class Function(NamedTuple):
    place: str
    name: str
    lines: int
    parameters: int


def main() -> int:
    for half in HALVES:
        paths = sorted((ROOT / half).rglob("*.py"))
        lengths = [len(path.read_text(encoding="utf-8").splitlines()) for path in paths]
        cuts = statistics.quantiles(lengths, n=10)
        functions = [one for path in paths for one in functions_of(path)]
        print(f"{half}: {len(paths)} files, {sum(lengths)} lines; lines a file: median {statistics.median(lengths):g}, "
              f"90th percentile {cuts[-1]:.0f}, longest {max(lengths)}")
        print_all(f"functions of more than {LINES} lines",
                  [f"{one.place} {one.name}: {one.lines}" for one in functions if one.lines > LINES])
        print_all(f"functions of more than {PARAMETERS} parameters",
                  [f"{one.place} {one.name}: {one.parameters}" for one in functions if one.parameters > PARAMETERS])
        print_all(f"functions of a complexity over {COMPLEXITY}", complex_ones(half))
        print_rooms(half, paths)
    return 0


def print_all(title: str, rows: list[str]) -> None:
    print(f"  {title}: {len(rows)}", *(f"    {row}" for row in rows), sep="\n")


def functions_of(path: Path) -> Iterator[Function]:
    """Every function of a file; the object itself, `self` or `cls`, is no parameter."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            given = node.args
            names = [one.arg for one in (*given.posonlyargs, *given.args, *given.kwonlyargs)]
            if names[:1] in (["self"], ["cls"]):
                del names[0]
            lines = (node.end_lineno or node.lineno) - node.lineno + 1
            yield Function(f"{path.relative_to(ROOT)}:{node.lineno}", node.name, lines, len(names))


def complex_ones(half: str) -> list[str]:
    done = subprocess.run(
        [sys.executable, "-m", "ruff", "check", "--select", "C901", "--config",
         f"lint.mccabe.max-complexity={COMPLEXITY}", "--output-format", "json", half],
        cwd=ROOT, capture_output=True, text=True, check=False)
    rows = json.loads(done.stdout)
    return [f"{Path(row['filename']).relative_to(ROOT)}:{row['location']['row']} {row['message']}" for row in rows]


def print_rooms(half: str, paths: list[Path]) -> None:
    """Files a room, and what of each lower room it imports."""
    order = (*ORDER[half], "")
    files, arrows = Counter(room_of(path, half) for path in paths), Counter(arrows_of(paths, half))
    print("  rooms, bottom up: files; imports from lower rooms")
    for room in order:
        below = ", ".join(f"{low or half} {arrows[room, low]}" for low in order if arrows[room, low] and low != room)
        print(f"    {room or '(the road)'}: {files[room]}; {below or 'none'}")


def room_of(path: Path, half: str) -> str:
    parts = path.relative_to(ROOT / half).parts
    return parts[0] if len(parts) > 1 else ""


def arrows_of(paths: list[Path], half: str) -> Iterator[tuple[str, str]]:
    """A pair of rooms for every import from one into the other."""
    for path in paths:
        room = room_of(path, half)
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.ImportFrom) and node.level:
                up = path.parent if node.level == 1 else path.parents[node.level - 1]
                targets = [(node.module or "").split(".")] if node.module else [[name.name] for name in node.names]
                for parts in targets:
                    found = (up.joinpath(*parts) / "x").relative_to(ROOT).parts
                    if found[0] == half:
                        yield room, found[1] if (ROOT / half / found[1]).is_dir() else ""


if __name__ == "__main__":
    sys.exit(main())

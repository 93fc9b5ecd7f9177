"""Wavefront OBJ, read with its polygons whole: a general mesh library would cut them into triangles, and
wrongly so where they are concave."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from ..envelope.mesh import Mesh
from ..terms.errors import InputError
from .face_names import telling

__all__ = ["parse_obj"]


def parse_obj(text: str, *, name: str = "envelope", scale: float = 1.0) -> Mesh:
    """The mesh that OBJ text describes, its lengths times `scale`.

    Faces are named by their groups, by their materials where groups tell nothing apart, and by their
    objects where materials do not either. Texture and normal references, lines and points are passed over.
    Raises InputError with the line's number for whatever cannot be read.
    """
    points: list[tuple[float, float, float]] = []
    faces: list[list[int]] = []
    lines: list[int] = []                       # of each face, for errors found at the end
    group = material = thing = ""
    named: list[tuple[str, str, str]] = []
    for number, keyword, values in _statements(text):
        if keyword == "v":
            points.append(_point(values, number))
        elif keyword == "f":
            faces.append([_index(v, len(points), number) for v in values])
            lines.append(number)
            named.append((group, material, thing))
            if len(values) < 3:
                raise InputError(f"the face on line {number} has {len(values)} corners", do="A face needs at least 3")
        elif keyword == "g":
            group = " ".join(v for v in values if v not in ("default", "off"))
        elif keyword == "usemtl":
            material = " ".join(values)
        elif keyword == "o":
            thing = " ".join(values)
    if not faces:
        raise InputError(
            f"the OBJ file has {len(points)} points and no faces",
            do="Export polygons ('f' lines), not curves, and see that the file is whole",
        )
    for face, number in zip(faces, lines, strict=True):
        if max(face) >= len(points):
            raise InputError(
                f"the face on line {number} uses point {max(face) + 1} and the file has {len(points)}",
                do="The file may be cut short: export it again",
            )
    groups, materials, things = zip(*named, strict=True)
    names = telling(groups, materials, things) or (groups if any(groups) else ())   # one group is meant as a name
    return Mesh.of(points, faces, face_names=names, name=name, scale=scale)


def _statements(text: str) -> Iterator[tuple[int, str, Sequence[str]]]:
    """(line number, keyword, values) of every statement, comments dropped and continued lines joined."""
    held, first = "", 0
    for number, line in enumerate(text.splitlines(), start=1):
        plain = line.split("#", 1)[0].rstrip()
        first = first or number
        if plain.endswith("\\"):
            held += plain[:-1] + " "
            continue
        words = (held + plain).split()
        if words:
            yield first, words[0], words[1:]
        held, first = "", 0
    if held.strip():
        raise InputError(f"line {first} goes on past the end of the file", do="It is cut short: export it again")


def _point(values: Sequence[str], number: int) -> tuple[float, float, float]:
    if len(values) < 3:
        raise InputError(f"the point on line {number} has {len(values)} coordinates", do="A point needs x, y and z")
    try:
        x, y, z = (float(v) for v in values[:3])   # a weight or colours may follow
    except ValueError:
        raise InputError(
            f"the point on line {number} is not three numbers: {' '.join(values)[:60]}", do="Export the file again"
        ) from None
    if not (math.isfinite(x) and math.isfinite(y) and math.isfinite(z)):
        raise InputError(
            f"the point on line {number} is not finite: {' '.join(values[:3])}", do="Mend that point in the drawing"
        )
    return x, y, z


def _index(value: str, count: int, number: int) -> int:
    """Point index, from 0, of one corner: p, p/t, p//n or p/t/n; a negative p counts back from the last point."""
    try:
        written = int(value.split("/", 1)[0])
    except ValueError:
        raise InputError(f"{value[:40]!r} on line {number} is no point number", do="Export the file again") from None
    index = written - 1 if written > 0 else count + written
    if written == 0 or index < 0:
        raise InputError(
            f"the face on line {number} uses point {written}, of {count} so far",
            do="Points are counted from 1, or back from -1",
        )
    return index

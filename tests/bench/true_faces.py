"""How long it takes to flatten freehand drawings and how that grows: a table in Markdown, printed.

    python tests/bench/true_faces.py

Drawings of about 200, 1 000 and 5 000 faces, every corner off by a millimetre, or as much as panels allow: a dome of
six-sided faces (three planes at a corner), a roof of four-sided ones (four planes at a corner), a box whose walls are
of triangles (panels of many faces). Of several turns the least time counts; with wishes for square faces and round
offsets, up to 300 faces, one turn. Nothing here is asserted.
"""

from __future__ import annotations

import math
import time

import numpy as np

SIZES = (200, 1000, 5000)
TURNS = 3
MOST_WISHED = 300


def dome(faces: int):
    """Six-sided faces, three at a corner: the planes that touch a paraboloid over a honeycomb meet over its edges."""
    from tackwright.core.envelope.mesh import Mesh

    n, size = round(math.sqrt(faces)), 60.0
    i, j = (c.reshape(-1) for c in np.meshgrid(np.arange(n), np.arange(n), indexing="ij"))
    middle = size * np.column_stack([math.sqrt(3) * (i + 0.5 * (j % 2)), 1.5 * j])
    turn = (np.arange(6) + 0.5) * np.pi / 3
    corners = middle[:, None] + size * np.column_stack([np.cos(turn), np.sin(turn)])
    away = (middle - middle.mean(axis=0)) / (60.0 * n)
    flat = (corners - middle.mean(axis=0)) / (60.0 * n)
    height = -20.0 * n * (2.0 * np.einsum("fk,fck->fc", away, flat) - (away**2).sum(axis=1)[:, None])
    whole = np.concatenate([corners, height[..., None]], axis=2).reshape(-1, 3)
    _, kept, where = np.unique(np.round(whole[:, :2], 3), axis=0, return_index=True, return_inverse=True)
    return Mesh.of(whole[kept], where.reshape(-1, 6))


def roof(faces: int):
    """Four-sided faces over a rise along x and another along y, which are flat before they are disturbed."""
    from tackwright.core.envelope.mesh import Mesh

    n = round(math.sqrt(faces))
    i, j = np.meshgrid(np.arange(n + 1), np.arange(n + 1), indexing="ij")
    rise = 2.0 * n * (np.sin(i / n * 3) + np.cos(j / n * 2))
    points = np.stack([50.0 * i, 50.0 * j, rise], axis=-1).reshape(-1, 3)
    at = (np.arange(n)[:, None] * (n + 1) + np.arange(n)).reshape(-1)
    return Mesh.of(points, np.stack([at, at + n + 1, at + n + 2, at + 1], axis=1))


def split_box(faces: int):
    """A box with a net of triangles on every wall, 10 mm and more apart."""
    from tackwright.core.envelope.mesh import Mesh

    n = max(2, round(math.sqrt(faces / 12)))
    side = np.linspace(0.0, 30.0 * n, n + 1)
    u, v = (c.reshape(-1) for c in np.meshgrid(side, side, indexing="ij"))
    at = (np.arange(n)[:, None] * (n + 1) + np.arange(n)).reshape(-1)
    cells = np.concatenate([np.stack([at, at + n + 1, at + 1], axis=1),
                            np.stack([at + n + 1, at + n + 2, at + 1], axis=1)])
    points, triangles = [], []
    for axis in range(3):
        for far in (0.0, side[-1]):
            wall = np.empty((len(u), 3))
            wall[:, axis], wall[:, (axis + 1) % 3], wall[:, (axis + 2) % 3] = far, u, v
            triangles.append((cells if far else cells[:, ::-1]) + len(u) * len(points))
            points.append(wall)
    whole = np.concatenate(points)
    kept, where = np.unique(np.round(whole, 6), axis=0, return_inverse=True)
    return Mesh.of(kept, where.reshape(-1)[np.concatenate(triangles)])


def disturbed(mesh, size: float):
    from tackwright.core.envelope.mesh import Mesh

    noise = np.random.default_rng(1).normal(0.0, size, mesh.points.shape)
    return Mesh.of(mesh.points + noise, [mesh.face(i) for i in range(mesh.face_count)])


KINDS = {"dome": (dome, 1.0), "roof": (roof, 1.0), "split box": (split_box, 0.02)}


def table() -> str:
    from tackwright.core.true_faces.face_wishes import FaceWishes
    from tackwright.core.true_faces.true_faces import true_faces

    lines = ["| drawing | faces | flatten | square | offsets | largest move | out of flat |", "|---" * 7 + "|"]
    for kind, (make, size) in KINDS.items():
        rows = []
        for faces in SIZES:
            mesh, laps = disturbed(make(faces), size), []
            for _ in range(TURNS):
                begin = time.perf_counter()
                found = true_faces(mesh)
                laps.append(time.perf_counter() - begin)
            wished = []
            for wishes in (FaceWishes(square=True, within=2.0), FaceWishes(snap="offsets")):
                if mesh.face_count > MOST_WISHED:
                    wished.append("")
                    continue
                begin = time.perf_counter()
                true_faces(mesh, wishes=wishes)
                wished.append(f"{time.perf_counter() - begin:.3f}")
            rows.append((mesh.face_count, min(laps)))
            lines.append(f"| {kind} | {mesh.face_count} | {min(laps):.3f} | {wished[0]} | {wished[1]} "
                         f"| {found.largest[0]:.2f} mm | {found.off.max():.1e} mm |")
        (first, begin), (last, end) = rows[0], rows[-1]
        lines.append(f"| growth exponent | | {math.log(end / begin) / math.log(last / first):.2f} | | | | |")
    return "\n".join(lines) + "\n"


if __name__ == "__main__":
    print(table())

"""The spaces of a written kit, counted on voxels: from its kit.json and its DXF files alone.

Nothing here knows how the plates were drawn or solved. A gap that two plates leave is closed where it is narrower than
what both are grown by, as a weld would; walls are taken without their holes, and openings in them are marks.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path

import ezdxf
import numpy as np
import shapely
from ezdxf import path as dxf_path
from scipy import ndimage

SIX = ndimage.generate_binary_structure(3, 1)


@dataclass(frozen=True, slots=True, kw_only=True)
class Space:
    """One space within the walls, mm3 in all and of what cannot run to its outlets. area: mm2, of its largest level
    section. give: mm3 that its volume may be off, a third of a voxel all over its surface. outlets: their names."""

    volume: float
    give: float
    stays: float
    area: float
    outlets: tuple[str, ...]


def spaces(folder: Path, pitch: float = 3.0, grow: float = 1.5) -> list[Space]:
    """The spaces of a kit folder, the largest first; walls with their metal inside on closed corners."""
    kit = json.loads((folder / "kit.json").read_text())
    plates = [(plate, _shape(folder / plate["file"], plate["role"] == "wall")) for plate in kit["plates"]]
    placed = [(plate, shape, np.array(p["matrix"])) for plate, shape in plates for p in plate["placements"]]
    ends = np.concatenate([
        (matrix @ np.array([[x, y, z, 1.0] for x, y in _corners(shape) for z in (0.0, plate["thickness"])]).T)[:3].T
        for plate, shape, matrix in placed])
    low = ends.min(axis=0) - 4.37 * pitch                      # no face of a plate lies on a layer of voxels
    count = np.ceil((ends.max(axis=0) + 4 * pitch - low) / pitch).astype(int)
    middles = low + (np.stack(np.meshgrid(*map(np.arange, count), indexing="ij"), axis=-1) + 0.5) * pitch
    cut, closed = np.zeros(count, dtype=bool), np.zeros(count, dtype=bool)
    for plate, shape, matrix in placed:
        for filled, by in ((cut, 0.0), (closed, grow)):
            filled |= _within(middles, matrix, shape.buffer(by, join_style="mitre"), plate["thickness"], by)
    label, number = ndimage.label(~closed, SIX)
    near = ndimage.distance_transform_edt(label == 0, return_distances=False, return_indices=True)
    whole = np.where(cut, 0, label[tuple(near)])
    outside = label[0, 0, 0]
    outlets: dict[int, dict[str, np.ndarray]] = {}
    for opening in kit["openings"]:
        where = _under(opening, placed, middles, pitch, grow)
        for one in np.unique(label[where & (label > 0)]).tolist():
            outlets.setdefault(one, {})[opening["name"]] = where & (label == one)
    out = []
    for one in set(range(1, number + 1)) - {outside}:
        free, own = label == one, outlets.get(one, {})
        wet = free & ~_dry(free, np.any(list(own.values()), axis=0) if own else np.zeros_like(free))
        wet_whole = (whole == one) & wet[tuple(near)]
        out.append(Space(
            volume=float((whole == one).sum()) * pitch**3, give=_faces(whole == one) * pitch**3 / 3,
            stays=float(wet_whole.sum()) * pitch**3,
            area=float((whole == one).sum(axis=(0, 1)).max()) * pitch**2, outlets=tuple(sorted(own))))
    return sorted((s for s in out if s.volume > 20 * pitch**3), key=lambda s: -s.volume)


def _shape(path: Path, filled: bool) -> shapely.Polygon:
    rings = [
        shapely.Polygon([(v.x, v.y) for v in dxf_path.make_path(entity).flattening(0.05)])
        for entity in ezdxf.readfile(path).modelspace().query("*[layer=='CUT']")
    ]
    outer = max(rings, key=lambda ring: ring.area)
    holes = [] if filled else [ring for ring in rings if ring is not outer]
    return outer - shapely.union_all(holes)


def _corners(shape: shapely.Polygon) -> list[tuple[float, float]]:
    return list(shape.envelope.exterior.coords)[:-1]


def _within(middles: np.ndarray, matrix: np.ndarray, shape: shapely.Geometry, thickness: float, by: float):
    """Which voxels' middles lie in the plate's shape, grown by so much to both faces."""
    local = (middles - matrix[:3, 3]) @ matrix[:3, :3]
    out = (local[..., 2] > -by) & (local[..., 2] < thickness + by)
    out[out] = shapely.contains_xy(shape, *local[out][:, :2].T)
    return out


def _under(opening, placed, middles, pitch, grow):
    """Voxels close to the inner face of a wall under an opening in it; none for an opening in another plate."""
    for plate, _, matrix in placed:
        if plate["role"] == "wall" and opening["plate"] in {p["id"] for p in plate["placements"]}:
            local = (middles - matrix[:3, 3]) @ matrix[:3, :3]
            over = np.hypot(*(local[..., :2] - opening["centre"]).transpose(3, 0, 1, 2)) < opening["size"][0] / 2
            return over & (local[..., 2] < -grow) & (local[..., 2] > -grow - pitch)
    return np.zeros(middles.shape[:3], dtype=bool)


def _faces(own: np.ndarray) -> int:
    """How many faces of voxels lie between these and others."""
    return sum(int(np.diff(own.astype(np.int8), axis=axis).astype(bool).sum()) for axis in range(3))


def _dry(free: np.ndarray, outlets: np.ndarray) -> np.ndarray:
    """Voxels from which some way leads to an outlet without rising above them, layer by layer."""
    out = np.zeros_like(free)
    for layer in range(free.shape[2]):
        label, number = ndimage.label(free[:, :, : layer + 1], SIX)
        reached = np.zeros(number + 1, dtype=bool)
        reached[np.unique(label[outlets[:, :, : layer + 1]])] = True
        reached[0] = False
        out[:, :, layer] = reached[label[:, :, layer]]
    return out

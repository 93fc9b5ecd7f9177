"""A scan squared up: from a patch of the floor and one of a wall to the motion that levels it and turns it straight."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from ..terms import tolerance
from ..terms.errors import InputError
from ..terms.messages import Angle, Length

__all__ = ["PlaneFit", "SquaredUp", "fit_plane", "scale_for", "square_up"]

Floats = NDArray[np.float64]

TRIES: Final = 300
"""Planes through three of the points that are tried: with half of them outliers one in eight is free of them, so that
all of the tries miss with a chance below 1e-17."""
MOST_POINTS: Final = 2000
"""Points by which planes are judged: the median of so many is known to a few percent."""
INLIER: Final = 2.5
"""Robust standard deviations within which a point belongs to the plane (P. Rousseeuw and A. Leroy, Robust Regression
and Outlier Detection, 1987: 1.4826 times the median of the distances, and 2.5)."""
THIN: Final = 0.02
"""A patch less wide than this share of its length is a line: a millimetre of noise on it would turn the plane."""
PARALLEL: Final = 10.0
"""Degrees between floor and wall below which they tell the same direction twice."""
MOST_SCALE: Final = 2000.0
"""A scan that is off by more was not read in another unit (metres or inches for millimetres), it is another thing."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PlaneFit:
    """point: (3,) in the middle of the patch, on the plane. normal: (3,) unit, either way. rms: mm from the plane of
    the points that belong to it; share: of all points that do."""

    point: Floats
    normal: Floats
    rms: float
    share: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SquaredUp:
    """motion: (4, 4) rigid, mm. angle: degrees between floor and wall as scanned. corner: (3,) before the motion, where
    floor and wall meet next to the wall's patch."""

    motion: Floats
    floor: PlaneFit
    wall: PlaneFit
    angle: float
    corner: Floats


def fit_plane(points: Floats, what: str = "The patch") -> PlaneFit:
    """The plane of (n, 3) points, mm, of which up to half may lie elsewhere.

    Least median of squares over planes through three points, the same ones every time, then least squares over
    the points that belong to the best. Raises InputError for less than three points, and points in one line.
    """
    if len(points) < 3:
        raise InputError(f"{what} has {len(points)} points and a plane needs three", do="Select more of it.")
    middle = points.mean(axis=0)
    centred = points - middle
    random = np.random.default_rng(0)
    some = centred if len(centred) <= MOST_POINTS else centred[random.choice(len(centred), MOST_POINTS, replace=False)]
    picks = np.array([random.choice(len(some), 3, replace=False) for _ in range(TRIES)])
    a, b, c = (some[picks[:, i]] for i in range(3))
    normals = np.cross(b - a, c - a)
    size = np.linalg.norm(normals, axis=1)
    usable = size > tolerance.RELATIVE * max(float(np.abs(some).max()), tolerance.RELATIVE) ** 2
    if not usable.any():
        raise _line(what)
    normals = normals[usable] / size[usable][:, None]
    off = np.abs(some @ normals.T - np.einsum("ij,ij->i", normals, a[usable]))
    medians = np.median(off, axis=0)
    best = int(medians.argmin())
    spread = max(1.4826 * float(medians[best]), tolerance.ROUNDING * float(np.abs(some).max()))
    near = np.abs(centred @ normals[best] - normals[best] @ a[usable][best]) <= INLIER * spread
    for _ in range(3):
        point, normal, widths = _least_squares(centred[near])
        far = np.abs((centred - point) @ normal)
        near = far <= INLIER * max(1.4826 * float(np.median(far[near])), spread)
    if widths[1] < THIN * widths[0]:
        raise _line(what)
    return PlaneFit(
        point=point + middle, normal=normal, rms=float(np.sqrt((far[near] ** 2).mean())), share=float(near.mean()))


def _least_squares(points: Floats) -> tuple[Floats, Floats, Floats]:
    """Middle, normal, and the widths of a cloud along its three directions, largest first."""
    middle = points.mean(axis=0)
    _, widths, directions = np.linalg.svd(points - middle, full_matrices=False)
    return middle, directions[2], widths


def _line(what: str) -> InputError:
    return InputError(f"{what} is no more than a line", do="Select points beside it too, an area of it.")


def square_up(
    floor: Floats, wall: Floats, *, inside: Floats, origin: Floats | None = None
) -> SquaredUp:
    """The motion that makes the floor level with the room above it, and the wall square to x or y, whichever takes the
    smaller turn.

    floor, wall: (n, 3) points, mm. inside: (3,) somewhere in the room, over the floor: the scan's middle will do.
    origin: (3,) the point of the scan that comes to the origin's place in the floor; None: the corner where floor
    and wall meet. Raises InputError where a patch is no area, or both have one direction.
    """
    floor_fit, wall_fit = fit_plane(floor, "The floor"), fit_plane(wall, "The wall")
    up = floor_fit.normal * (1.0 if floor_fit.normal @ (inside - floor_fit.point) >= 0.0 else -1.0)
    out = wall_fit.normal * (1.0 if wall_fit.normal @ (inside - wall_fit.point) >= 0.0 else -1.0)
    angle = math.degrees(math.acos(float(np.clip(-(up @ out), -1.0, 1.0))))
    if min(angle, 180.0 - angle) < PARALLEL:
        raise InputError(
            "Floor and wall lie the same way", by=f"{Angle(min(angle, 180.0 - angle)):.1f} between them",
            do="Set a wall that stands up from the floor.")
    level = out - (out @ up) * up                # the wall's direction along the floor
    level /= np.linalg.norm(level)
    tilt = _shortest_turn(up, np.array([0.0, 0.0, 1.0]))
    turned = tilt @ level
    heading = math.atan2(turned[1], turned[0])
    turn = round(heading / (math.pi / 2)) * (math.pi / 2) - heading
    about = np.array([[math.cos(turn), -math.sin(turn), 0.0], [math.sin(turn), math.cos(turn), 0.0], [0.0, 0.0, 1.0]])
    rotation = about @ tilt
    corner = _corner(floor_fit.point, up, wall_fit.point, out)
    fixed = corner if origin is None else origin - ((origin - floor_fit.point) @ up) * up
    motion = np.eye(4)
    motion[:3, :3] = rotation
    motion[:3, 3] = -rotation @ fixed
    return SquaredUp(motion=motion, floor=floor_fit, wall=wall_fit, angle=angle, corner=corner)


def _shortest_turn(one: Floats, other: Floats) -> Floats:
    """(3, 3) the rotation about an axis square to both that takes one unit vector to the other (Rodrigues)."""
    axis, cosine = np.cross(one, other), float(one @ other)
    if cosine < -1.0 + tolerance.RELATIVE:                    # upside down: about x
        return np.diag([1.0, -1.0, -1.0])
    skew = np.array([[0.0, -axis[2], axis[1]], [axis[2], 0.0, -axis[0]], [-axis[1], axis[0], 0.0]])
    return np.asarray(np.eye(3) + skew + skew @ skew / (1.0 + cosine))


def _corner(on_floor: Floats, up: Floats, on_wall: Floats, out: Floats) -> Floats:
    """The point on both planes that is nearest to one on the wall."""
    along = np.cross(up, out)
    rows = np.array([up, out, along])
    return np.asarray(np.linalg.solve(rows, np.array([up @ on_floor, out @ on_wall, along @ on_wall])))


def scale_for(measured: float, true: float) -> float:
    """What a scan is to be scaled by, so that a distance of `measured` mm in it becomes the `true` one, mm.

    Raises InputError for distances that are none and for a scale that nobody can mean.
    """
    if not (0.0 < measured < math.inf and 0.0 < true < math.inf):
        raise InputError(f"A distance of {Length(measured):g} cannot become "
                         f"{Length(true):g}", do="Give a distance above 0.")
    scale = true / measured
    if not 1.0 / MOST_SCALE <= scale <= MOST_SCALE:
        raise InputError(
            f"{Length(measured):g} in the scan would become {Length(true):g}", by=f"{scale:.3g} times",
            do="Check the distance and its unit, or scale the object first.")
    return scale

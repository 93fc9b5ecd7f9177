"""The one right cure for what hurts at a joint, where there is one."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..terms import tolerance
from ..terms.choices import SIDES, JointChoice, Settings, TabRule
from ..terms.messages import Length
from ..terms.remedies import ChangedJoints, ChangedSetting, Remedy
from .section import is_butt, solve_section

__all__ = ["CREVICE", "CURED", "NEARLY", "THIRSTY", "MeasuredJoint", "fair_overlaps", "joint_remedy"]

Floats = NDArray[np.float64]

CREVICE: Final = 0.01
"""mm2: smaller crevices are the rounding of a nearly square corner, and smaller grooves are none."""
THIRSTY: Final = 1.5
"""Times the groove of a square corner, from which an acute one swallows filler (below some 67 degrees). Our choice."""
NEARLY: Final = 1.02
"""Times the groove of a square corner that an overlap which brings it down to that may leave."""
USUAL_FIT_GAP: Final = Settings().fit_gap


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasuredJoint:
    """What cures are chosen by. angle: degrees. through, under: thickness of the through plate and of the other, mm.
    fit_gap: mm, both sides together. edges: the mesh edges it was drawn as. settings: of the whole kit."""

    angle: float
    through: float
    under: float
    fit_gap: float
    edges: tuple[tuple[int, int], ...]
    settings: Settings


def fair_overlaps(angle: ArrayLike, through: ArrayLike, under: ArrayLike, areas: Floats) -> Floats:
    """(k, 2) the least overlap at which the groove of each of k joints is no larger than its area, 1 if there is none,
    and the groove it then has (in a sharp wedge it shrinks evenly). angle: (k,) degrees. through, under: (k,)
    thickness of the through plate and of the other, mm. areas: (k,) mm2.

    >>> fair_overlaps([60.0, 25.0], [3.0, 3.0], [3.0, 3.0], np.array([9.0, 9.0])).round(3).tolist()
    [[0.634, 9.0], [1.0, 19.301]]
    """
    none, whole = (np.asarray(solve_section(angle, through, under, overlap=share).groove) for share in (0.0, 1.0))
    share = np.clip((none - areas) / np.maximum(none - whole, tolerance.RELATIVE), 0.0, 1.0)
    return np.column_stack([share, none + share * (whole - none)])


def joint_remedy(rule: str, joint: MeasuredJoint) -> Remedy | None:
    """What cures the finding of that rule at a joint, None where there is no cure or a choice of several."""
    cure = _CURES.get(rule)
    return None if cure is None or not joint.edges else cure(joint)


def _groove(joint: MeasuredJoint) -> Remedy | None:
    """A groove where there is none: open, or as much so as takes no more filler than a square corner."""
    if bool(is_butt(joint.angle)):
        return None
    groove = float(solve_section(joint.angle, joint.through, joint.under).groove)
    if groove <= CREVICE:
        return None
    return _less_filler(joint) if _is_thirsty(joint, groove) else _open(joint)


def _less_filler(joint: MeasuredJoint) -> Remedy | None:
    fair = joint.through * joint.under
    overlap, area = fair_overlaps([joint.angle], [joint.through], [joint.under], np.array([fair]))[0].tolist()
    overlap = round(overlap, 2)
    if not CREVICE < area <= NEARLY * fair:
        return None
    if overlap >= 1.0:
        return _joints(joint, "Close the Corner", JointChoice(corner="closed"))
    return _joints(joint, f"Half-Open, Overlap {overlap:.2f}", JointChoice(corner="half-open", overlap=overlap))


def _open(joint: MeasuredJoint) -> Remedy:
    return _joints(joint, "Open the Corner", JointChoice(corner="open"))


def _usual_fit(joint: MeasuredJoint) -> Remedy | None:
    label = f"Fit Gap {Length(USUAL_FIT_GAP):g} a Side"
    if joint.fit_gap == SIDES * joint.settings.fit_gap:
        return Remedy(label=label, changes=(ChangedSetting(name="fit_gap", value=USUAL_FIT_GAP),))
    return _joints(joint, label, JointChoice(fit_gap=USUAL_FIT_GAP))


def _without_tabs(joint: MeasuredJoint) -> Remedy:
    return _joints(joint, "No Tabs at This Joint", JointChoice(tabs=TabRule(on=False)))


def _is_thirsty(joint: MeasuredJoint, groove: float) -> bool:
    wedge = min(joint.angle, 360.0 - joint.angle)
    return wedge < 90.0 and groove > THIRSTY * joint.through * joint.under


def _joints(joint: MeasuredJoint, label: str, choice: JointChoice) -> Remedy:
    return Remedy(label=label, changes=(ChangedJoints(edges=joint.edges, choice=choice),))


_CURES: Final[Mapping[str, Callable[[MeasuredJoint], Remedy | None]]] = {
    "cracks_without_filler": _groove,
    "crevice": _open,
    "thirsty_groove": _less_filler,
    "fit_gap_wide": _usual_fit,
    "locked_out": _without_tabs,
}

CURED: Final = frozenset(_CURES)
"""Rules that have a cure at some joints."""

"""What happens along every edge of the envelope: which plate runs through, by how much, and how far each
plate's edge stands back. One row an edge; a free edge has one panel and stands where it was drawn.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from functools import partial

import numpy as np
from numpy.typing import NDArray

from ..envelope.envelope import Edge, Envelope, Panel, importance_key
from ..stock.materials import usual_corner
from ..terms import tolerance
from ..terms.choices import SIDES, Choices, Corner, JointChoice, JointKind, TabRule
from ..terms.errors import InputError
from ..terms.merged_choices import one_choice
from ..terms.messages import Length
from .section import crossing, is_butt, run_past_limit, solve_section

__all__ = ["Joints", "importance", "solve_joints", "without_jogs"]

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Joints:
    """All joints, as arrays over the envelope's m edges; two columns are the edge's two panels.

    panels: (m, 2), -1 in the second column at a free edge. angle: (m,) dihedral, degrees.
    through: (m,) the column of the through plate. kinds: (m,) names. overlap, root_gap, fit_gap: (m,).
    All the following are distances from the drawn edge into the panel, along its plane, mm, (m, 2):
    root: of the root line; base: of the plate's edge; full: of its edge where it runs wholly through
    (a tab); under: where the other one does (a notch); inner, outer: where the inner and the outer
    surfaces cross. reach: (m, 2) how far `full` is past the root. proud: (m, 2) how far a square end
    stands out. run_past, groove, groove_angle, notch: (m,) as in section.py.
    tab_on: (m,) the column of the plate with the single tab. rules: (m,) how tabs are laid out. shift: (m,) by how much
    the first group is moved along.
    """

    panels: Ints
    angle: Floats
    through: Ints
    kinds: tuple[JointKind, ...]
    overlap: Floats
    root_gap: Floats
    fit_gap: Floats
    root: Floats
    base: Floats
    full: Floats
    under: Floats
    inner: Floats
    outer: Floats
    reach: Floats
    proud: Floats
    run_past: Floats
    groove: Floats
    groove_angle: Floats
    notch: Floats
    tab_on: Ints
    rules: tuple[TabRule, ...]
    shift: Floats

    @property
    def free(self) -> NDArray[np.bool_]:
        return np.asarray(self.panels[:, 1] < 0)


def solve_joints(envelope: Envelope, choices: Choices) -> Joints:
    """Every joint of the envelope, solved in its cross-section. Raises InputError for choices that do not fit."""
    edges = envelope.edges
    panels = np.array([(*e.panels, -1)[:2] for e in edges], dtype=np.int64).reshape(-1, 2)
    free = panels[:, 1] < 0
    angle = np.where(free, 90.0, [e.angle for e in edges])
    spec = _resolved(envelope, choices, panels)
    overlap, through = spec.overlap, spec.through
    thickness = np.array([p.thickness for p in envelope.panels])[panels]
    inner = np.array([p.inner for p in envelope.panels])[panels]
    outer = np.array([p.outer for p in envelope.panels])[panels]
    convex = (angle < 180.0)[:, None]
    root = _crossings(angle, np.where(convex, inner, outer))
    butt = is_butt(angle) & ~free

    rows, other = np.arange(len(edges)), 1 - through
    section = solve_section(angle, thickness[rows, through], thickness[rows, other], overlap, spec.root_gap)
    base = root.copy()
    base[rows, through] += section.back1
    base[rows, other] += section.back2
    reach = np.column_stack([run_past_limit(angle, *thickness.T), run_past_limit(angle, *thickness.T[::-1])])
    lean = np.maximum(0.0, -np.cos(np.radians(np.minimum(angle, 360.0 - angle))))[:, None]
    proud = np.zeros((len(edges), 2))
    proud[rows, through], proud[rows, other] = section.proud1, section.proud2
    keep = ~free

    def live(array: Floats) -> Floats:
        return np.where(keep if array.ndim == 1 else keep[:, None], array, 0.0)

    return Joints(
        panels=panels, angle=live(angle), through=np.where(free, 0, through), kinds=_kinds(overlap, butt, free),
        overlap=np.where(keep & ~butt, overlap, 0.0), root_gap=live(spec.root_gap),
        fit_gap=live(spec.fit_gap),
        root=live(root), base=live(base), full=live(root - reach),
        under=live(np.maximum(base, root + reach[:, ::-1] * lean)),
        inner=live(_crossings(angle, inner)), outer=live(_crossings(angle, outer)),
        reach=live(reach), proud=live(proud), run_past=live(section.run_past), groove=live(section.groove),
        groove_angle=live(section.groove_angle), notch=live(section.notch),
        tab_on=np.where(free, 0, spec.tab_on), rules=spec.rules, shift=live(spec.shift),
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Spec:
    """What is chosen for every edge (m,): by the settings, and over them by choices for single joints. through, tab_on:
    which of its two plates runs through, and which carries the single tab. shift: of the first group of tabs, mm."""

    overlap: Floats
    root_gap: Floats
    fit_gap: Floats
    through: Ints
    tab_on: Ints
    rules: tuple[TabRule, ...]
    shift: Floats


def _resolved(envelope: Envelope, choices: Choices, panels: Ints) -> _Spec:
    """panels: (m, 2) of every edge, -1 where there is no second one."""
    edges, settings = envelope.edges, choices.settings
    usual = usual_corner(choices)
    # where the shop has a habit for each family of metals, the overlap is meant for those that are half-open
    idle = settings.corner is None and bool(settings.corners) and usual != "half-open"
    everywhere = None if idle else settings.overlap
    overlap = np.full(len(edges), _overlap(settings.corner, everywhere, usual, "the settings"))
    root_gap = np.full(len(edges), _at_least_zero(settings.root_gap, "root gap"))
    fit_gap = np.full(len(edges), SIDES * _at_least_zero(settings.fit_gap, "fit gap"))
    rules = [settings.tabs] * len(edges)
    rank = importance(envelope)
    through = np.where(rank[panels[:, 0]] <= rank[panels[:, 1]], 0, 1)
    tab_on = 1 - through
    for row, choice in _choices_by_edge(envelope, choices).items():
        where = " and ".join(f"'{envelope.panels[p].name}'" for p in edges[row].panels)
        if choice.corner is not None or choice.overlap is not None:
            overlap[row] = _overlap(choice.corner, choice.overlap, usual, f"the joint of {where}")
        if choice.root_gap is not None:
            root_gap[row] = _at_least_zero(choice.root_gap, "root gap")
        if choice.fit_gap is not None:
            fit_gap[row] = SIDES * _at_least_zero(choice.fit_gap, "fit gap")
        rules[row] = _merged(choice.tabs, settings.tabs)
        both = panels[row, 1] >= 0                       # its other plate may be left out now
        if choice.through is not None and both:
            through[row] = _column(choice.through, edges[row], envelope.panels, "through")
            tab_on[row] = 1 - through[row]
        if choice.tab_on is not None and both:
            tab_on[row] = _column(choice.tab_on, edges[row], envelope.panels, "tab_on")
    return _Spec(
        overlap=overlap, root_gap=root_gap, fit_gap=fit_gap, through=through, tab_on=tab_on, rules=tuple(rules),
        shift=np.array([
            max((choices.shifts.get(pair, 0.0) for pair in edge.mesh_edges), default=0.0) for edge in edges]))


def _kinds(overlap: Floats, butt: NDArray[np.bool_], free: NDArray[np.bool_]) -> tuple[JointKind, ...]:
    def kind(covered: float, is_butt: bool, is_free: bool) -> JointKind:
        if is_free or is_butt:
            return "free" if is_free else "butt"
        return "open_corner" if covered == 0 else "closed_corner" if covered == 1 else "half_open_corner"

    return tuple(map(kind, overlap.tolist(), butt.tolist(), free.tolist()))


def without_jogs(joints: Joints, notched: NDArray[np.bool_], fingered: NDArray[np.bool_], least: float) -> Joints:
    """The joints with steps beside tabs that are lower than `least` mm merged, by taking off metal alone.

    notched, fingered: (m, 2) whether that plate's edge has stretches at `under`, at `full`. An edge that stands back
    from the root anyhow stands back all along as far as in its notches: the root gap grows by that. A finger
    that stands out by less than `least` is left out where its plate's edge is as good as there.
    """
    step = joints.under - joints.base
    back = notched & (step > 0) & (step < least) & (joints.base >= joints.root - tolerance.TOUCH)
    base = np.where(back, joints.under, joints.base)
    stand = base - joints.full
    full = np.where(fingered & (stand > 0) & (stand < least), base, joints.full)
    a, b = (base - joints.root).T
    cosine = np.cos(np.radians(np.minimum(joints.angle, 360.0 - joints.angle)))
    apart = np.where(                                      # of the arrises at the root, or of an end from a face
        np.minimum(a, b) >= -tolerance.TOUCH, np.sqrt(np.maximum(a * a + b * b - 2 * a * b * cosine, 0.0)),
        joints.root_gap + np.where(back, step, 0.0).sum(axis=1))
    return replace(joints, base=base, full=full, root_gap=np.where(back.any(axis=1), apart, joints.root_gap))


def _crossings(angle: Floats, depth: Floats) -> Floats:
    """(m, 2) where surfaces at `depth` (m, 2) cross, measured in each of the two panels."""
    return np.column_stack([crossing(angle, depth[:, 0], depth[:, 1]), crossing(angle, depth[:, 1], depth[:, 0])])


def importance(envelope: Envelope) -> Ints:
    """Rank of every panel, 0 first: it runs through and stays whole."""
    keys = [importance_key(p, i) for i, p in enumerate(envelope.panels)]
    rank = np.empty(len(keys), dtype=np.int64)
    rank[np.array(sorted(range(len(keys)), key=keys.__getitem__), dtype=np.int64)] = np.arange(len(keys))
    return rank


def _choices_by_edge(envelope: Envelope, choices: Choices) -> dict[int, JointChoice]:
    """Edge index to the choice made for it, by name or on one of the mesh edges it was drawn as."""
    names = {p.name for p in envelope.panels} | {p.name for p in envelope.inner}
    pairs: dict[tuple[str, str], list[int]] = {}
    found: dict[int, JointChoice] = {}
    if choices.joints:
        for index, edge in enumerate(envelope.edges):
            if not edge.free:
                pair = sorted(envelope.panels[p].name for p in edge.panels)
                pairs.setdefault((pair[0], pair[1]), []).append(index)
    inner = {p.name for p in envelope.inner}
    for wanted, choice in choices.joints.items():
        key = (min(wanted), max(wanted))
        if inner.intersection(key):
            continue                                     # a tee or a crossing: see tee_choices.py
        if key not in pairs:
            unknown = [name for name in key if name not in names]
            raise InputError(
                f"no panel is named '{unknown[0]}'" if unknown else f"'{key[0]}' and '{key[1]}' do not meet",
                do="The panels are: " + ", ".join(sorted(names)) + ".",
            )
        found.update(dict.fromkeys(pairs[key], choice))
    if choices.edges:
        found.update(_by_mesh_edge(envelope, choices.edges))
    return found


def _by_mesh_edge(envelope: Envelope, wanted: Mapping[tuple[int, int], JointChoice]) -> dict[int, JointChoice]:
    """Pieces of one edge choose together."""
    pieces: dict[int, list[JointChoice]] = {}
    for index, edge in enumerate(envelope.edges):
        found = [wanted[pair] for pair in edge.mesh_edges if pair in wanted]
        if found:
            pieces[index] = found
    return {
        index: found[0] if len(found) == 1 else one_choice(
            found, partial(_column, edge=envelope.edges[index], panels=envelope.panels, what="through"))
        for index, found in pieces.items()
    }


def _overlap(corner: Corner | None, overlap: float | None, usual: Corner, where: str) -> float:
    """Overlap that a kind and a number of the same choice come to."""
    if overlap is not None and not 0.0 <= overlap <= 1.0:
        raise InputError(f"overlap {overlap:g} of {where} is outside 0 to 1", do="0 is open, 1 is closed.")
    if corner is None and overlap is not None:
        return overlap
    kind = corner or usual
    fixed = {"open": 0.0, "closed": 1.0}.get(kind)
    if fixed is None:
        return 0.5 if overlap is None else overlap
    if overlap is not None and overlap != fixed:
        raise InputError(
            f"corner '{kind}' and an overlap of {overlap:g}, as chosen for {where}, do not go together",
            do=f"Leave the overlap out, or choose a half-open corner (a {kind} one has overlap {fixed:g}).",
        )
    return fixed


def _at_least_zero(value: float, what: str) -> float:
    if not 0.0 <= value < np.inf:
        raise InputError(f"{what} {Length(value):g} is below 0", do="Give 0 or more.")
    return value


def _column(panel: str | int, edge: Edge, panels: tuple[Panel, ...], what: str) -> int:
    """Which of the edge's panels is meant, by name or by one of its faces."""
    for column, index in enumerate(edge.panels):
        if panels[index].name == panel or (isinstance(panel, int) and panel in panels[index].faces):
            return column
    names = " and ".join(f"'{panels[p].name}'" for p in edge.panels)
    raise InputError(f"{what} = {panel!r} is not one of the joint's panels", do=f"They are {names}.")


def _merged(rule: TabRule, wider: TabRule) -> TabRule:
    """`rule` with what it leaves open taken from `wider`."""
    gaps = {f.name: getattr(wider, f.name) for f in fields(TabRule) if getattr(rule, f.name) is None}
    return replace(rule, **gaps)

"""Remedies: what cures a finding, as data. Where there is one right cure, a check offers it with its finding; an
editor shows it on a button, and `apply` makes the choices that it comes to."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, fields, replace
from types import MappingProxyType
from typing import Final, Literal

from .choices import Choices, JointChoice, MarkedOpening, PanelChoice, TabRule
from .messages import Message

__all__ = [
    "AddedOpening", "Change", "ChangedField", "ChangedJoints", "ChangedMesh", "ChangedOpening", "ChangedPanels",
    "ChangedSetting", "MeshAction", "Remedy", "apply", "changed_opening", "merged_joint", "merged_panel", "new_name",
]

Pair = tuple[int, int]
Point = tuple[float, float, float]
MeshAction = Literal["flatten", "fill", "delete", "flip"]


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangedJoints:
    """edges: pairs of point indices of mesh edges. choice: what they get; what it leaves open stays as it was."""

    edges: tuple[Pair, ...]
    choice: JointChoice


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangedPanels:
    """faces: of the mesh. choice: what they get; what it leaves open stays as it was. name: that choices find their
    panel by, for who writes a job; None where it has none yet."""

    faces: tuple[int, ...]
    choice: PanelChoice
    name: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangedSetting:
    """name: of a length in choices.Settings; value: mm."""

    name: Literal["fit_gap", "limber"]
    value: float


@dataclass(frozen=True, slots=True, kw_only=True)
class AddedOpening:
    """opening: to be marked beside those there are. Its name is a wish: where it is taken, a number is added."""

    opening: MarkedOpening


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangedOpening:
    """name: of a marked opening. move: mm, added to its place. size: as in MarkedOpening, mm. square: its axis is given
    up, so that it is square to the plate. None, False: stays as it was."""

    name: str
    move: Point | None = None
    size: tuple[float, ...] | None = None
    square: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangedField:
    """field: the number of a perforation field in Choices.fields, from 0. panel: its panel, as there. margin: mm."""

    field: int
    panel: str | int
    margin: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangedMesh:
    """A change of the drawing itself. action: make the faces flat, fill the loops of edges with faces, delete the
    faces (not their edges), or turn the faces over. edges: pairs of point indices."""

    action: MeshAction
    faces: tuple[int, ...] = ()
    edges: tuple[Pair, ...] = ()


Change = (
    ChangedJoints | ChangedPanels | ChangedSetting | AddedOpening | ChangedOpening | ChangedField | ChangedMesh
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Remedy:
    """label: what it does, for a button; kept as a Message. changes: all of them together."""

    label: str
    changes: tuple[Change, ...]

    def __post_init__(self) -> None:
        object.__setattr__(self, "label", Message(self.label))


_NO_JOINT: Final = JointChoice()
_NO_PANEL: Final = PanelChoice()


def apply(choices: Choices, remedy: Remedy) -> Choices:
    """The choices with a remedy applied. Raises ValueError for one that changes the drawing itself, and KeyError for
    an opening that is not there."""
    for change in remedy.changes:
        choices = _applied(choices, change)
    return choices


def _applied(choices: Choices, change: Change) -> Choices:
    match change:
        case ChangedJoints():
            edges = dict(choices.edges)
            for edge in change.edges:
                edges[edge] = merged_joint(edges.get(edge, _NO_JOINT), change.choice)
            return replace(choices, edges=MappingProxyType(edges))
        case ChangedPanels():
            faces = dict(choices.faces)
            for face in change.faces:
                faces[face] = merged_panel(faces.get(face, _NO_PANEL), change.choice)
            return replace(choices, faces=MappingProxyType(faces))
        case ChangedSetting():
            values: Mapping[str, float] = {change.name: change.value}
            return replace(choices, settings=replace(choices.settings, **values))  # type: ignore[arg-type]
        case AddedOpening():
            name = new_name(change.opening.name, [o.name for o in choices.openings])
            return replace(choices, openings=(*choices.openings, replace(change.opening, name=name)))
        case ChangedOpening():
            if change.name not in {o.name for o in choices.openings}:
                raise KeyError(change.name)
            return replace(choices, openings=tuple(
                changed_opening(o, change) if o.name == change.name else o for o in choices.openings))
        case ChangedField():
            return replace(choices, fields=tuple(
                replace(f, margin=change.margin) if i == change.field else f for i, f in enumerate(choices.fields)))
        case ChangedMesh():
            raise ValueError(f"'{change.action}' changes the drawing, not the choices")


def merged_joint(before: JointChoice, choice: JointChoice) -> JointChoice:
    """A joint's choice with another put over it. A corner brings its overlap along: the former one is not its own."""
    told = {f.name: value for f in fields(JointChoice) if (value := getattr(choice, f.name)) is not None}
    if choice.corner is not None:
        told["overlap"] = choice.overlap
    rule = {f.name: value for f in fields(TabRule) if (value := getattr(choice.tabs, f.name)) is not None}
    return replace(before, **{**told, "tabs": replace(before.tabs, **rule)})


def merged_panel(before: PanelChoice, choice: PanelChoice) -> PanelChoice:
    """A panel's choice with another put over it."""
    told = {f.name: value for f in fields(PanelChoice) if (value := getattr(choice, f.name)) is not None}
    return replace(before, **{**told, "left_out": before.left_out or choice.left_out})


def changed_opening(opening: MarkedOpening, change: ChangedOpening) -> MarkedOpening:
    """An opening with the change made."""
    x, y, z = (a + b for a, b in zip(opening.at, change.move or (0.0, 0.0, 0.0), strict=True))
    return replace(
        opening, at=(x, y, z), size=opening.size if change.size is None else change.size,
        axis=None if change.square else opening.axis)


def new_name(wanted: str, taken: Iterable[str]) -> str:
    """A name that is not taken.

    >>> new_name("vent", ["drain"]), new_name("vent", ["vent", "vent 2"])
    ('vent', 'vent 3')
    """
    used = set(taken)
    number, name = 1, wanted
    while name in used:
        number += 1
        name = f"{wanted} {number}"
    return name

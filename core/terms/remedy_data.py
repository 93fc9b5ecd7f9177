"""A remedy as plain data and back, so that a file can keep it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from typing import Any, Final

from .choices import Bolts, JointChoice, MarkedOpening, PanelChoice, TabRule
from .messages import raw
from .plain import Plain, PlainMapping
from .remedies import (
    AddedOpening,
    Change,
    ChangedField,
    ChangedJoints,
    ChangedMesh,
    ChangedOpening,
    ChangedPanels,
    ChangedSetting,
    Remedy,
)

__all__ = ["remedy_data", "remedy_from_data"]

_KINDS: Final[Mapping[str, type[Any]]] = {
    "joints": ChangedJoints, "panels": ChangedPanels, "setting": ChangedSetting, "add_opening": AddedOpening,
    "opening": ChangedOpening, "field": ChangedField, "mesh": ChangedMesh,
}
_NAMES: Final = {kind: name for name, kind in _KINDS.items()}
_WITHIN: Final[Mapping[type[Any], Mapping[str, type[Any]]]] = {
    ChangedJoints: {"choice": JointChoice}, JointChoice: {"tabs": TabRule}, ChangedPanels: {"choice": PanelChoice},
    AddedOpening: {"opening": MarkedOpening}, MarkedOpening: {"bolts": Bolts},
}
"""Records within records."""


def remedy_data(remedy: Remedy) -> Plain:
    """Plain data for JSON: a label, and the changes, each with its `kind`. What has its default is left out."""
    return {
        "label": raw(remedy.label),
        "changes": [{"kind": _NAMES[type(change)], **_record_data(change)} for change in remedy.changes],
    }


def remedy_from_data(data: PlainMapping) -> Remedy:
    """The remedy again. Keys that are not known are ignored. Raises KeyError, TypeError or ValueError for what is
    no remedy, or has a change of a kind that is not known: half a remedy is none."""
    changes: list[Change] = [_record(_KINDS[entry["kind"]], entry) for entry in data["changes"]]
    return Remedy(label=str(data["label"]), changes=tuple(changes))


def _record_data(record: Any) -> Plain:
    out: Plain = {}
    for item in fields(record):
        value = getattr(record, item.name)
        if is_dataclass(value):
            out[item.name] = _record_data(value)
        elif value != item.default:
            out[item.name] = value
    return out


def _record(kind: type[Any], data: PlainMapping) -> Any:
    within = _WITHIN.get(kind, {})
    known = {item.name for item in fields(kind)}
    return kind(**{
        name: _record(within[name], value) if name in within else _frozen(value)
        for name, value in data.items() if name in known
    })


def _frozen(value: object) -> Any:
    return tuple(_frozen(item) for item in value) if isinstance(value, list) else value

"""Everything of the extension's that a .blend keeps, as plain data: to be compared from one version to the next."""

from __future__ import annotations

from typing import Any

NAMED = "tackwright"


def all_kept(bpy: Any) -> dict[str, Any]:
    """By the owner's kind and name: every property under the extension's names and every attribute of meshes. No
    property is named here: what is registered is asked for. Lengths as kept, whatever their unit."""
    found: dict[str, Any] = {}
    for kind in ("scenes", "collections", "objects"):
        for owner in sorted(getattr(bpy.data, kind), key=lambda one: one.name):
            kept = {name: _value(owner, name) for name in _names(owner) if name.startswith(NAMED)}
            if getattr(owner, "type", "") == "MESH":
                kept["attributes"] = {a.name: _numbers(a) for a in owner.data.attributes if a.name.startswith(NAMED)}
            found[f"{kind}/{owner.name}"] = kept
    return found


def _names(owner: Any) -> list[str]:
    return [told.identifier for told in owner.bl_rna.properties]


def _value(group: Any, name: str) -> Any:
    told, value = group.bl_rna.properties[name], getattr(group, name)
    if told.type == "COLLECTION":
        return [_group(row) for row in value]
    if told.type == "POINTER":
        is_group = value is not None and "PropertyGroup" in {base.__name__ for base in type(value).__mro__}
        return _group(value) if is_group else value and value.name
    if getattr(told, "is_array", False):
        return [_rounded(one) for one in value]
    return sorted(value) if isinstance(value, set) else _rounded(value)


def _group(group: Any) -> dict[str, Any]:
    return {name: _value(group, name) for name in _names(group) if name != "rna_type"}


def _numbers(attribute: Any) -> list[Any]:
    return [_rounded(row.value) for row in attribute.data]


def _rounded(value: Any) -> Any:
    return float(f"{value:.6g}") if isinstance(value, float) else value

"""What the editor's types leave open, said once: how an operator ends, what its mixins are of, and an object's mesh.

The types of the editor (fake-bpy-module) are there for mypy alone; when the extension runs, a mixin is a plain class.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Literal, TypeAlias, cast

import bpy

__all__ = ["AttributeDomain", "Ended", "Icon", "OfOperator", "OfPanel", "ReportLevel", "mesh_of"]

AttributeDomain: TypeAlias = Literal["POINT", "EDGE", "FACE"]
"""What of a mesh an attribute is of, where its name is handed on."""

Ended: TypeAlias = set[Literal["RUNNING_MODAL", "CANCELLED", "FINISHED", "PASS_THROUGH", "INTERFACE"]]
"""How an operator came out, as the editor wants it said."""

Icon: TypeAlias = Any
"""An icon's name, where it is looked up or handed on: the types want one of a thousand words written on the spot."""

ReportLevel: TypeAlias = Literal["INFO", "WARNING", "ERROR"]
"""What a report may be."""

if TYPE_CHECKING:
    OfOperator: TypeAlias = bpy.types.Operator
    OfPanel: TypeAlias = bpy.types.Panel
else:
    class OfOperator:
        """The base of a mixin that stands before bpy.types.Operator; that itself may not be: it would be registered."""

    class OfPanel:
        """The base of a mixin that stands before bpy.types.Panel."""


def mesh_of(item: bpy.types.Object) -> bpy.types.Mesh:
    """The mesh of an object whose type is MESH: whoever calls has seen to that. As the object has it, unevaluated or
    evaluated."""
    return cast(bpy.types.Mesh, item.data)          # one of thirteen kinds by its type, and `type` narrows nothing

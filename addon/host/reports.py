"""What operators say to the user: the one place where an error or a message goes to Blender's reports."""

from __future__ import annotations

import bpy

from ...core.stock.said_units import said
from ...core.terms.errors import TackwrightError
from .editor_types import ReportLevel
from .shown_lengths import error_text, units_of

__all__ = ["report_error", "report_line"]


def report_line(operator: bpy.types.Operator, level: ReportLevel, text: str) -> None:
    """level: INFO, WARNING or ERROR. text: with quantities, where it has some, put into the scene's units."""
    operator.report({level}, said(text, units_of(bpy.context.scene)))


def report_error(operator: bpy.types.Operator, error: TackwrightError, level: ReportLevel = "ERROR") -> None:
    """An error, in the scene's units."""
    operator.report({level}, error_text(bpy.context, error))

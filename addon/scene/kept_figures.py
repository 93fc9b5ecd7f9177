"""A kit's figures, kept on its envelope."""

from __future__ import annotations

import bpy

from ...core.kit.figures import figure_rows, figures_from_text, figures_of, figures_text
from ...core.kit.kit import Kit
from ...core.kit.report import openings_text
from ..host.shown_lengths import units_of

__all__ = ["drop_figures", "keep_figures", "kept_rows"]


def keep_figures(envelope: bpy.types.Object, kit: Kit) -> None:
    """Keep the figures of a kit in place of what was kept before; and a few of them as lines, which older versions
    show."""
    figures = figures_of(kit)
    lines = [f"{figures.plates} {'plate' if figures.plates == 1 else 'plates'}, {figures.distinct} distinct, "
             f"{figures.mass:.2f} kg"]
    lines += [f"Holds {capacity / 1e6:.4g} L" for _, capacity in figures.capacities if capacity is not None]
    lines += [openings_text(kit)] if kit.openings else []
    _keep(envelope, figures_text(figures), "\n".join(lines))


def drop_figures(envelope: bpy.types.Object) -> None:
    """Keep no figures: there is no kit."""
    _keep(envelope, "", "")


def _keep(envelope: bpy.types.Object, figures: str, summary: str) -> None:
    """Written only where it is something else than before, so that nothing else is told of a change."""
    settings = envelope.tackwright
    for name, text in (("figures", figures), ("summary", summary)):
        if getattr(settings, name) != text:
            setattr(settings, name, text)


def kept_rows(scene: bpy.types.Scene, envelope: bpy.types.Object) -> tuple[tuple[str, str], ...]:
    """Names and values of the figures that are kept, in the scene's units; none, where an older version kept lines."""
    figures = figures_from_text(envelope.tackwright.figures)
    return figure_rows(figures, units_of(scene)) if figures is not None else ()

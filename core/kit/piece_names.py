"""What pieces are called for people."""

from __future__ import annotations

from collections.abc import Mapping

from .kit import Kit

__all__ = ["piece_names"]


def piece_names(kit: Kit) -> Mapping[str, str]:
    """What every placement is called, 'P02 front', by its id."""
    return {p.id: f"{plate.mark} {p.panel}" for plate in kit.plates for p in plate.placements}

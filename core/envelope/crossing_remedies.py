"""Which of two walls that run into each other was meant as an inner plate: a rib or a gusset on an open sheet."""

from __future__ import annotations

from .envelope import Envelope

__all__ = ["meant_inner"]


def meant_inner(envelope: Envelope, pair: tuple[int, int], reach: float) -> int | None:
    """The one of two panels that stands on the other, or passes through it and is joined to nothing; None where
    either could be meant, and beside a closed shell, which has no inner plates outside of it.

    It stands on the other where it ends within `reach` mm of that one's plane, and that one does not end at its own.
    """
    shells = [envelope.shells[envelope.panels[p].shell] for p in pair]
    if shells[0] is shells[1] or any(shell.closed for shell in shells):
        return None
    through = [_passes(envelope, one, other, reach) for one, other in (pair, pair[::-1])]
    alone = [len(shell.panels) == 1 for shell in shells]
    for sure in (through, [not own for own in alone]):
        if sure[0] != sure[1]:
            return pair[sure.index(False)]
    return None


def _passes(envelope: Envelope, one: int, other: int, reach: float) -> bool:
    """Whether panel `one` has corners on both sides of the other's plane, farther from it than `reach` mm."""
    frame = envelope.panels[other].frame
    height = (envelope.points[envelope.panels[one].rings[0]] - frame.origin) @ frame.axes[2]
    return float(height.min()) < -reach and float(height.max()) > reach

"""In how many ways a cut plate fits a place: one that fits where its holes are not wanted can be welded in wrong."""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from dataclasses import dataclass

import numpy as np

from .connectivity import components
from .outline import Outline
from .outline_stack import OutlineStack, stack_outlines
from .rigid_fit import count_fits, first_fits

__all__ = ["Mistakes", "Ways", "mistakes", "ways_to_fit", "wrong_ways"]


@dataclass(frozen=True, slots=True)
class Ways:
    """turns: ways to fit with the outside face out. turned_over: ways to fit with the outside face in."""

    turns: int
    turned_over: int

    @property
    def only_one(self) -> bool:
        """Whether the plate fits as designed and no other way."""
        return self.turns == 1 and self.turned_over == 0

    @property
    def any(self) -> bool:
        return self.turns > 0 or self.turned_over > 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Mistakes:
    """What can be welded in wrong. own: pieces and the wrong ways in which each fits its own place. among: pieces that
    fit in each other's places, in groups; ascending."""

    own: tuple[tuple[int, Ways], ...]
    among: tuple[tuple[int, ...], ...]


def ways_to_fit(outline: Outline, tolerance: float) -> Ways:
    """In how many ways the piece fits its own outline, turned in the plane and turned over: once at least.

    tolerance: mm, the most a corner or hole may be off and still fit: the fit gap. Holes count too. Contours
    are compared corner by corner: a round contour made of arcs fits as often as its arcs do, not any way.

    >>> import numpy as np
    >>> from .outline import Contour
    >>> ways_to_fit(Outline(outer=Contour(points=np.array([(0, 0), (30, 0), (30, 20), (0, 20.0)]))), 0.1)
    Ways(turns=2, turned_over=2)
    """
    return _ways(outline, outline, tolerance)


def wrong_ways(piece: Outline, place: Outline, tolerance: float) -> Ways:
    """In how many ways the piece goes where another belongs, contour on contour, with its holes not on that one's.

    >>> import numpy as np
    >>> from .outline import Circle, Contour
    >>> lid = Outline(outer=Contour(points=np.array([(0, 0), (30, 0), (30, 20), (0, 20.0)])))
    >>> ported = Outline(outer=lid.outer, holes=(Circle(centre=(15.0, 5.0), diameter=4.0),))
    >>> wrong_ways(lid, lid, 0.1), wrong_ways(ported, ported, 0.1), wrong_ways(lid, ported, 0.1)
    (Ways(turns=0, turned_over=0), Ways(turns=1, turned_over=1), Ways(turns=2, turned_over=2))
    """
    going, right = _ways(_bare(piece), _bare(place), tolerance), _ways(piece, place, tolerance)
    return Ways(going.turns - right.turns, going.turned_over - right.turned_over)


def mistakes(outlines: Sequence[Outline], keys: Sequence[Hashable], tolerance: float) -> Mistakes:
    """Which of the pieces can be welded in wrong, for their outer contours agree and their holes do not.

    keys: one a piece, of whatever else keeps it from another's place (thickness). A piece that fits with every hole
    where it belongs harms nobody, whichever way it is turned.
    """
    own: list[tuple[int, Ways]] = []
    pairs: set[tuple[int, int]] = set()
    for stack in stack_outlines([_bare(outline) for outline in outlines], keys):
        for row, index in enumerate(stack.index.tolist()):
            if not (outlines[index].holes or outlines[index].fields):
                continue                             # only the other of a pair may have some: it is looked at there
            piece = stack.only(slice(row, row + 1))
            fits = first_fits(piece, stack, tolerance)[0] | first_fits(piece.mirrored(), stack, tolerance)[0]
            for place in stack.index[fits].tolist():
                pair = (min(index, place), max(index, place))
                if pair in pairs or not (ways := wrong_ways(outlines[index], outlines[place], tolerance)).any:
                    continue
                if place == index:
                    own.append((index, ways))
                else:
                    pairs.add(pair)
    linked = np.array(sorted(pairs), dtype=np.int64).reshape(-1, 2)
    label = components(len(outlines), linked[:, 0], linked[:, 1])
    groups: dict[int, list[int]] = {}
    for index in np.unique(linked).tolist():
        groups.setdefault(int(label[index]), []).append(index)
    return Mistakes(own=tuple(sorted(own, key=lambda one: one[0])), among=tuple(sorted(map(tuple, groups.values()))))


def _bare(outline: Outline) -> Outline:
    return Outline(outer=outline.outer)


def _ways(piece: Outline, place: Outline, tolerance: float) -> Ways:
    one, other = _stack(piece), _stack(place)
    return Ways(count_fits(one, other, tolerance), count_fits(one.mirrored(), other, tolerance))


def _stack(outline: Outline) -> OutlineStack:
    (stack,) = stack_outlines([outline])
    return stack

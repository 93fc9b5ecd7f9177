"""Plates drawn apart, as the slider of the view does it."""

from tackwright.core.kit.ways_out import share_of_way


def moved_along(way, spread):
    """(3,) mm: how far a plate has been moved at a value of the slider."""
    return way.direction * (way.distance * share_of_way(way.begin, way.end, spread))

"""How faces keep metal of their own, where it is not the envelope's."""

from __future__ import annotations

from ...core.terms.choices import MetalSide

__all__ = ["SIDES", "SIDE_ATTRIBUTE", "SIDE_NUMBERS", "THICKNESS_ATTRIBUTE", "side_items"]

THICKNESS_ATTRIBUTE = "tackwright_thickness"
"""Face attribute: the thickness of the face's plate in mm, 0 for the envelope's."""

SIDE_ATTRIBUTE = "tackwright_metal_side"
"""Face attribute: by the numbers below. 0, which faces made new get, chooses nothing."""

side_items = [
    ("AS_ENVELOPE", "As Envelope", "As the settings of the envelope say", 0),
    ("INSIDE", "Inside", "On the side that the face looks away from", 2),
    ("CENTRED", "Centred", "The drawing is the middle of the plate", 3),
    ("OUTSIDE", "Outside", "On the side that the face looks to", 1),
]
SIDES: dict[str, MetalSide | None] = {
    "AS_ENVELOPE": None, "OUTSIDE": "outside", "INSIDE": "inside", "CENTRED": "centred",
}  # fmt: skip
SIDE_NUMBERS = {number: SIDES[name] for name, _, _, number in side_items}

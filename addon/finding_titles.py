"""What findings are called in a list: a few plain words for each rule, for rule names are for programs."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from .finding_group import TackwrightFinding

__all__ = ["TITLES", "title_of", "where_of"]

TITLES: Final[Mapping[str, str]] = {
    "cannot_drain": "Liquid stays",
    "clash": "Plates clash",
    "corner_without_tab": "Corner without tab",
    "cracks_without_filler": "Cracks, no filler",
    "crevice": "Hidden crevice",
    "drawn_circle": "Cut as a circle",
    "drawn_hole_radius": "Hole less rounded",
    "edge_swallowed": "Edge too short",
    "face_twice": "Face drawn twice",
    "face_without_area": "Face without area",
    "faces_turned_over": "Faces turned over",
    "fields_overlap": "Fields overlap",
    "fit_gap_wide": "Fit gap too wide",
    "fits_more_than_one_way": "Fits several ways",
    "fitting_hole": "Measure fitting",
    "found_inside": "Inner plates found",
    "free_edges": "Open envelope",
    "groove_inside": "Groove inside",
    "hole_too_small": "Hole too small",
    "inner_plate_loose": "Inner plate loose",
    "inner_plate_parted": "Inner plate parted",
    "inner_plate_trimmed": "Inner plate cut back",
    "inner_plates_apart": "Plates do not meet",
    "locked_out": "Way in is barred",
    "opening_along_plate": "Axis along plate",
    "opening_at_joint": "Opening over joint",
    "opening_near_cut": "Opening too near",
    "opening_off_plate": "Opening off plates",
    "opening_off_square": "Opening at a slant",
    "opening_over_edge": "Opening over edge",
    "opening_overlap": "Openings overlap",
    "opening_too_big": "Opening too large",
    "opening_turn": "Opening not turned",
    "perforation_empty": "No hole fits",
    "piece_cut_off": "Piece came off",
    "plate_too_large": "Plate too large",
    "proud_end": "End stands proud",
    "root_gap_wide": "Root gap too wide",
    "sealed_cell": "Closed space",
    "several_shells": "Several shells",
    "shape_keys": "Shape keys ignored",
    "slot_too_small": "Slot too narrow",
    "tab_left_out": "Tab left out",
    "tee_on_edge": "Meets only an edge",
    "tee_too_sharp": "Meets too sharply",
    "tee_trimmed_away": "Joint cut away",
    "tee_without_tabs": "Joint without tab",
    "thickness_doubtful": "Sheet too thin",
    "thirsty_groove": "Much filler",
    "trimmed": "Plate trimmed",
    "units_doubtful": "Wrong unit?",
    "warped_face_mended": "Face not flat",
    "web_too_small": "Too little metal",
}
"""By rule. Short: in a narrow sidebar twenty letters are seen."""


def title_of(kept: TackwrightFinding) -> str:
    """What a kept finding is called. A refusal has no rule of its own: its message says it."""
    if kept.rule == "refused":
        return kept.message
    return TITLES.get(kept.rule) or kept.rule.replace("_", " ").capitalize()


def where_of(kept: TackwrightFinding) -> str:
    """Where it is, in a few letters: the openings, else the plates, else what was drawn; empty for the whole."""
    if kept.rule == "refused":
        return ""
    return _few(kept.openings.splitlines()) or _few(kept.about.split(), 2) or _drawn(kept)


def _few(names: list[str], most: int = 1) -> str:
    shown = ", ".join(names[:most])
    return f"{shown} +{len(names) - most}" if len(names) > most else shown


def _drawn(kept: TackwrightFinding) -> str:
    faces = sum(len(place.faces.split()) for place in (kept, *kept.elsewhere))
    if faces:
        return f"{faces} face{'s' if faces > 1 else ''}"
    edges = sum(len(place.edges.split()) for place in (kept, *kept.elsewhere)) // 2
    return f"{edges} edge{'s' if edges > 1 else ''}" if edges else ""

"""What findings are called in a list: a few plain words for each rule, for rule names are for programs."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Final

import bpy

from ..scene.finding_group import TackwrightFinding

__all__ = ["TITLES", "message_of", "row_of", "title_of", "title_of_rule", "where_of"]

TITLES: Final[Mapping[str, str]] = {
    "cannot_drain": "Liquid stays",
    "choice_idle": "Idle choice",
    "clash": "Clash",
    "closed_in": "Closed in",
    "corner_without_tab": "No tab",
    "cracks_without_filler": "Will crack",
    "closed_corner_thick": "Thick corner",
    "crevice": "Crevice",
    "drawn_circle": "Cut as a circle",
    "drawn_hole_radius": "Hole less rounded",
    "edge_swallowed": "Short edge",
    "face_twice": "Face drawn twice",
    "face_without_area": "Face without area",
    "faces_turned_over": "Faces turned over",
    "fields_overlap": "Fields overlap",
    "fit_gap_wide": "Wide fit gap",
    "fits_more_than_one_way": "Fits wrongly",
    "fitting_hole": "Measure fitting",
    "found_inside": "Inner plates found",
    "free_edges": "Open envelope",
    "groove_inside": "Groove inside",
    "groove_taken": "Groove taken",
    "groove_thick": "Several passes",
    "hole_too_small": "Small hole",
    "inner_plate_lengthened": "Lengthened",
    "inner_plate_loose": "Loose plate",
    "inner_plate_parted": "Parted",
    "inner_plate_trimmed": "Cut back",
    "inner_plates_apart": "Do not meet",
    "inside_out": "Inside out",
    "locked_out": "Way barred",
    "mark_misplaced": "Mark misplaced",
    "nose_blunted": "Blunt nose",
    "opening_along_plate": "Axis along plate",
    "cut_stays_open": "Cut stays open",
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
    "plate_too_large": "Large plate",
    "proud_end": "Proud end",
    "reach_not_tried": "Reach untried",
    "root_gap_wide": "Wide root gap",
    "sealed_cell": "Closed space",
    "several_shells": "Several shells",
    "shape_keys": "Shape keys ignored",
    "slot_open_outside": "Open slots",
    "slot_too_small": "Narrow slot",
    "tab_left_out": "Tab left out",
    "tee_on_edge": "On an edge",
    "tee_too_sharp": "Too sharp",
    "tee_trimmed_away": "Joint lost",
    "limber_left_out": "No limber hole",
    "tee_tabs_left_out": "Fewer tabs",
    "tee_without_tabs": "No tab",
    "thickness_doubtful": "Thin sheet",
    "thirsty_groove": "Much filler",
    "torn_mesh": "Torn mesh",
    "trimmed": "Trimmed",
    "units_doubtful": "Wrong unit?",
    "warped_face_mended": "Face not flat",
    "web_too_small": "Little metal",
    "weld_by_plugs": "Held by plugs",
    "weld_out_of_reach": "Out of reach",
    "weld_partly_reached": "Partly reached",
}
"""By rule. Short: beside the marks of two plates the usual sidebar has room for some fourteen letters."""


def title_of(kept: TackwrightFinding) -> str:
    """What a kept finding is called, in the user's language. A refusal has no rule of its own: its message says it."""
    if kept.rule == "refused":
        return message_of(kept)
    return title_of_rule(kept.rule)


def message_of(kept: TackwrightFinding) -> str:
    """What a kept finding says, to be put into the reader's units."""
    return kept.told or kept.message


def title_of_rule(rule: str) -> str:
    """What findings of a rule are called, in the user's language."""
    title = TITLES.get(rule)
    return bpy.app.translations.pgettext_iface(title) if title else rule.replace("_", " ").capitalize()


def row_of(findings: Sequence[TackwrightFinding], index: int) -> str:
    """What a list says of one of the findings in it; those that would read the same are numbered from the second on."""
    own = findings[index]
    told = ": ".join(filter(None, (title_of(own), where_of(own))))
    before = sum(_place(one) == _place(own) for one in findings[:index]) if own.rule != "refused" else 0
    return f"{told} ({before + 1})" if before else told


def _place(kept: TackwrightFinding) -> tuple[str, ...]:
    return kept.rule, kept.about, kept.openings, kept.faces, kept.edges


def where_of(kept: TackwrightFinding) -> str:
    """Where it is, in a few letters: the openings, else the plates, else what was drawn; empty for the whole."""
    if kept.rule == "refused":
        return ""
    return _few(kept.openings.splitlines()) or _few(kept.about.split(), 2) or _drawn(kept)


def _few(names: list[str], most: int = 1) -> str:
    return f"{names[0]} +{len(names) - 1}" if len(names) > most else " ".join(names)


def _drawn(kept: TackwrightFinding) -> str:
    faces = sum(len(place.faces.split()) for place in (kept, *kept.elsewhere))
    if faces:
        return f"{faces} face{'s' if faces > 1 else ''}"
    edges = sum(len(place.edges.split()) for place in (kept, *kept.elsewhere)) // 2
    return f"{edges} edge{'s' if edges > 1 else ''}" if edges else ""

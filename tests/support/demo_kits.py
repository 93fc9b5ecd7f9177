"""Kits of the demo scenes, and what is compared of a kit."""

from __future__ import annotations

import dataclasses
from collections import Counter

from repo_paths import DEMOS

from tackwright.core.files.job import read_job
from tackwright.core.files.read_mesh import read_mesh
from tackwright.core.make_kit import make_kit


def made(name, **choices):
    """The kit of a demo scene's job file, with some choices in place of the file's."""
    job = read_job(DEMOS / f"{name}.toml")
    return make_kit(
        read_mesh(job.mesh_path, unit=job.unit), dataclasses.replace(job.choices, **choices), name=job.name)


def cut_by_panel(kit):
    """Panel to thickness, outline's area, mass, length to cut and pierces of its plate."""
    return {
        placement.panel: (plate.thickness, plate.area, plate.mass, plate.cut_length, plate.pierces)
        for plate in kit.plates
        for placement in plate.placements
    }


def openings_of(kit):
    """Name and purpose of what is cut beside the outlines, and how many holes of it, by panel."""
    panels = {placement.id: placement.panel for plate in kit.plates for placement in plate.placements}
    return Counter((panels[o.plate], o.name, o.purpose, o.count) for o in kit.openings)

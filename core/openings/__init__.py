"""Holes that somebody asked for: drawn, marked, fittings' and perforations.

Doors: `openings.place_openings`, `perforated_plates.perforate_plates`.
"""

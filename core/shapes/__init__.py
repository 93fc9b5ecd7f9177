"""Geometry without metal: frames, rings, outlines, boxes, rigid fits.

Doors: `frame.Frame`, `outline.Outline`, `rings`.
"""

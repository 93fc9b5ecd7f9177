"""The space that the thing goes into: a scan, its room round a drawing, and squaring it up.

Doors: `scan_index`, `clearance`, `square_up`.
"""

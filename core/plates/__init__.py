"""Walls: joints solved, edges moved, tabs planned, plates settled as solids.

Doors: `solve.solve`, `solve.settle_plates`.
"""

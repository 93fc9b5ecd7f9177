"""The spaces that welds close, from plates as they are cut; what is trapped in them.

Door: `interior_cells.check_interior_cells`.
"""

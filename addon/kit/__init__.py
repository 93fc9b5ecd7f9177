"""The kit in the editor: solved, shown as plates, followed while one draws, exported.

Doors: `solve.solve`, `plates.show_plates`, `live.step`.
"""

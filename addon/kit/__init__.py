"""The kit in the editor: solved, shown as plates, followed while one draws, exported.

Doors: `asked_kit.solved_kit`, `shown_plates.show_plates`, `live.step`.
"""

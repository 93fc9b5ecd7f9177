"""Plates inside: brought to the walls, crossed, tabbed through what they stand on.

Doors: `inner_plates.fit_inner_plates`, `tabbed.tab_and_settle`; the record `interior.Interior`.
"""

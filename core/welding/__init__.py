"""What is welded, run by run: where, how large, with how much filler, by which process; and whether a torch gets there.

Doors: `seams.seams_of`, `reach.reaches`.
"""

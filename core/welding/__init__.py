"""What is welded, run by run: where, how large, with how much filler, by which process.

Doors: `seams.seams_of`, `reach.reach_of`.
"""

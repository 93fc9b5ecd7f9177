"""What is welded, and whether a torch gets there.

Door: `reach.reaches`.
"""

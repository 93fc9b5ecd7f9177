"""A drawing made flat: the nearest one whose faces are planes.

Door: `true_faces.true_faces`.
"""

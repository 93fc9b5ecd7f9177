"""Operators on the drawing and on what was chosen for it, and the preferences."""

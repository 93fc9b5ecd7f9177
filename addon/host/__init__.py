"""Blender itself: handlers, undo, threads, units, files, drawing over its views. Knows nothing of plates."""

"""The core: from a drawn envelope to a kit of plates, in pure functions. It imports no bpy."""

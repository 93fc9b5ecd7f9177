"""From the scene to what the core takes, and from a job or a shop back to the scene.

Doors: `gather.read_drawing`, `job_scene.add_job`.
"""

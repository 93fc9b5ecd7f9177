"""In and out: meshes, jobs and shops read, the kit's folder written and read back.

Doors: `read_mesh.read_mesh`, `job.read_job`, `kit_folder.write_kit`.
"""

"""What is bought: metals, gauges, fittings; and lengths as people write and read them.

Doors: `materials.find_material`, `gauges.gauge_thickness`, `fittings`, `lengths.parse_length`.
"""

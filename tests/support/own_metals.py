"""Metals of one's own."""

from tackwright.core.stock.own_materials import own_material

COPPER = own_material(name="copper C110", family="other", density=8960.0, filler="ERCu", source="CRC Handbook")
TITANIUM = own_material(
    name='titanium, "grade 2"', family="other", density=4506.0, corner="closed", needs_filler=True, remarks="shielded")
ZINCED = own_material(name="steel DX51", family="steel", density=7850.0, gauges="galvanized")
OWN = (COPPER, TITANIUM, ZINCED)

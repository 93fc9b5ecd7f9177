"""A way of welding, for plates up to some thickness. The ways themselves are in the room `welding`."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["Process"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Process:
    """up_to: thickness of the thinner plate, mm. k: arc efficiency (EN 1011-1). efficiency: share of what is bought
    that is deposited. wire: diameter, mm. volts, amps; speed: of one pass, mm/min. fill: mm of a groove's depth that
    one pass fills; penetration: mm of a closed corner that one fuses."""

    name: str
    up_to: float
    k: float
    efficiency: float
    wire: float
    volts: float
    amps: float
    speed: float
    fill: float
    penetration: float

    @property
    def heat(self) -> float:
        """Heat input of one pass, kJ/mm: k * 60 * U * I / (1000 * v), EN 1011-1.

        >>> round(Process(name="TIG", up_to=3.0, k=0.6, efficiency=1.0, wire=1.6, volts=12.0, amps=90.0, speed=120.0,
        ...     fill=3.0, penetration=3.0).heat, 4)
        0.324
        """
        return self.k * 60.0 * self.volts * self.amps / (1000.0 * self.speed)

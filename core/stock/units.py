"""Units by their definitions, in mm and kg, and who reads in which."""

from __future__ import annotations

from typing import Final, Literal

__all__ = ["FOOT", "GALLON", "INCH", "POUND", "Units"]

Units = Literal["mm", "in"]
"""What the reader's lengths are in; areas, volumes and masses go with them."""

INCH: Final = 25.4
"""mm, exact by definition (international inch, 1959)."""
FOOT: Final = 12.0 * INCH
GALLON: Final = 231.0 * INCH**3
"""US liquid gallon in mm3: 231 cubic inches, exact by definition."""
POUND: Final = 0.45359237
"""kg, exact by definition (international avoirdupois pound, 1959)."""

"""Every tolerance of the project, in one place, each with its reason. Lengths in mm."""

from __future__ import annotations

from typing import Final

MERGE: Final = 1e-4
"""Mesh points nearer than this are one point: far below what a laser can cut, above the noise of
single-precision files at a metre from the origin."""

TEAR: Final = 0.01
"""Points at the rims of faces that are nearer than this were meant as one, and a mesh torn there is closed: what
exporters round to, and a fifth of FLAT. No edge is drawn so short."""

FLAT: Final = 0.05
"""A face or panel whose points all lie within this of one plane is flat: a tenth of the finest sheet, and
below the flatness that sheet metal is sold with."""

FLAT_ANGLE: Final = 0.25
"""Degrees: neighbouring faces that turn less than this against each other may be one panel, if FLAT agrees."""

MENDABLE_WARP: Final = 0.5
"""A warped face within this of its best plane is mended by that plane, with a note. Above it the drawn
shape and the cut shape would differ visibly, so it is refused."""

STRAIGHT: Final = 0.02
"""A point nearer than this to the line between its neighbours is no corner of the outline: below the
narrowest class-1 limit deviation for laser cuts (ISO 9013, 0.075 mm)."""

NOISY_ANGLE: Final = 1.0
"""Degrees: the same for small faces, whose corners need be off by hundredths of a millimetre only to turn
them so far."""

SLIVER: Final = 0.5
"""A face less high than this, and ten times as long as high, has no dependable direction: ten times FLAT,
where points that are off by FLAT turn its normal by 6 degrees. Its distance from a neighbour's plane decides."""

NO_AREA: Final = 1e-6
"""mm2: a face smaller than this has no direction and is dropped."""

ANGLE_NOISE: Final = 1e-3
"""Degrees: how far a drawn angle may be off by the noise of its coordinates."""

SHARPEST: Final = 20.0
"""Degrees: corners sharper than this (or than 360 minus this, re-entrant) are refused: the setback of a
square-cut edge passes five times the thickness and no torch reaches the root."""

BUTT_ANGLE: Final = 0.5
"""Degrees from 180: below this the crossing of two planes is too ill-defined to set an edge by, so the
drawn edge is used."""

CLASH: Final = 0.01
"""mm3: the volume two solids may share, from the project's first promise: a cube of 0.2 mm."""

SPECK: Final = 1e-6
"""mm3: a part of an intersection smaller than this is the rounding of faces that touch."""

TOUCH: Final = 1e-6
"""mm: solids nearer than this are called touching, not clashing: the rounding of double precision at ten
metres, with room."""

TRIM_ROOM: Final = 0.005
"""mm: a trim cuts this much more than the clash, so that rounding cannot leave a sliver behind; well
below the kerf."""

ROUND: Final = 0.05
"""mm: a drawn hole whose corners all lie this near to a circle stands for it; as FLAT, below what a laser cuts true."""

CONGRUENT: Final = 2e-3
"""mm: outlines that agree within this are the same piece: far below any cutting tolerance."""

WRITE: Final = 6
"""Decimals written for lengths in mm: a nanometre, far below need, above the differences that platforms'
math libraries make in the last binary digit."""

SHORTEST_RUN: Final = 0.05
"""mm: the shortest run of a contour that is cut: below it a beam, a tenth of a millimetre or more wide, resolves
nothing, and some machines stop at every point. Common practice, no source."""

RUN_SHIFT: Final = 0.01
"""mm: how far a contour may move to be without shorter runs: a seventh of the narrowest class-1 limit deviation for
laser cuts (ISO 9013, 0.075 mm)."""

CHORD: Final = 0.02
"""mm: the sagitta allowed when an arc is flattened for a boolean, a check or a picture."""

FAR_MITRE: Final = 4.0
"""An edge is lengthened past its end by at most this many setbacks; a sharper meeting is cut off square."""

VANISH: Final = 1.0
"""mm2: a plate smaller than this is not worth cutting."""

COLLINEAR: Final = 1e-6
"""mm: when outlines are compared, a point nearer than this to the straight run through it, or to the next
point, is left out: drawing noise, a two-thousandth of CONGRUENT."""

TIE: Final = 1e-6
"""mm: lengths that differ by less are equal where a choice hangs on which is longer: far above rounding,
so that a piece turned or redrawn from another corner is drawn alike; far below what is drawn on purpose."""

ROUNDING: Final = 1e-9
"""mm, or a ratio of lengths: what sums done in two ways differ by at a metre, with room. Comparisons that must not hang
on it are loosened by so much; directions that are nearer than this to parallel have no dependable crossing."""

RELATIVE: Final = 1e-12
"""Of the numbers compared: rounding of a few products in double precision, with room."""

NONZERO: Final = 1e-300
"""Divisor in place of 0: what has no length keeps no direction, and nothing is warned of."""

SAME_WAY: Final = 1e-6
"""Sine: directions nearer than this are one. A micrometre in a metre, above the noise of fitted planes."""

CUBIC_METRE: Final = 1e-9
"""Of a mm3, exact."""

OFF_ROOT: Final = 0.5
"""mm: how far before a weld's root a torch's way begins, so that the faces that meet there are not in it: the finest
sheet's thickness, and far below a nozzle's width."""

EDGE_OF_TRIANGLE: Final = 1e-9
"""Of a triangle's sides: a ray that passes so near outside counts as a hit, for none may slip between two triangles."""

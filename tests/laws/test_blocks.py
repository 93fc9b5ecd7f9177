"""Envelopes with many re-entrant edges and mixed corners: unions of blocks, sometimes with a square tunnel or a
slanted cut, their surfaces made by manifold3d and read back as triangles."""

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from judges import cavities, worst_overlap
from strategies import blocks

from tackwright.core.make_kit import make_kit
from tackwright.core.terms.choices import Choices, Settings
from tackwright.core.terms.errors import InputError

TEAR = ("touch only at a point", "faces meet at one edge", "touch", "too small")


@settings(max_examples=40)
@given(blocks(), st.sampled_from(["open", "half-open", "closed"]), st.sampled_from(["outside", "inside", "centred"]),
       st.sampled_from([1.5, 3.0, 5.0]))
def test_blocks_make_kits_that_close_and_do_not_clash(drawn, corner, side, thickness):
    mesh, volume = drawn
    try:
        settings = Settings(corner=corner, metal_side=side, thickness=thickness, sealed=True)
        kit = make_kit(mesh, Choices(settings=settings))
    except InputError as error:
        assert any(reason in str(error) for reason in TEAR), str(error)
        assume(False)
    assert not [f for f in kit.checks if f.level == "error"]
    assert worst_overlap(kit) <= 0.01
    capacity = kit.envelopes[0].capacity
    if side == "outside":
        assert capacity == pytest.approx(volume, rel=1e-9)
    # the corners of three plates are filled too: sharp ones leave a large void
    inside = cavities(kit, bead=0.8 * thickness, fill=5.5 * thickness)
    assert inside, "the cavity leaks"
    taken = sum((0.8 * thickness) ** 2 * np.pi * j.length for j in kit.joints)
    taken += len(kit.corners) * 4 / 3 * np.pi * (5.5 * thickness) ** 3
    assert capacity - taken <= inside[0] <= capacity + sum(2 * thickness**2 * j.length for j in kit.joints)

"""A shop's habits: files, jobs that follow them, and the limits that plates are held to. The limits themselves:
common practice, no source; where a bound is worked out here it is derived."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from lone_plates import ODD, plate
from plain_shapes import box

from tackwright.core.files.job import job_from_table, read_job
from tackwright.core.files.shops import BUILT_IN, Shop, read_shop, shop_of, shop_table, shop_text, with_shop
from tackwright.core.kit.plate_checks import check_plates
from tackwright.core.make_kit import make_kit
from tackwright.core.shapes.bed_fit import fits_bed, smallest_box
from tackwright.core.shapes.outline import Circle
from tackwright.core.terms.choices import Choices, Cutter, Settings, TabRule, Torch
from tackwright.core.terms.errors import InputError

FULL = Shop(
    name='Jo\'s "yard" \\ 2\n', about="Überhaupt: ±", corner="half-open",
    corners={"steel": "half-open", "other": "open"},
    overlap=0.25, root_gap=0.5, fit_gap=0.15, slot_relief=0.4, limber=12.0, dxf_units="in",
    tabs=TabRule(on=False, width=20.0, flank=15.0, spacing=150.0, keep_out=30.0, count=3),
    cutter=Cutter(hole_ratio=0.7, hole=2.0, web_ratio=1.5, thinnest=0.8, bed=(3000.0, 1500.5)),
    torch=Torch(nozzle=13.0, stand_off=15.0, length=220.0, lean=30.0, hand=90.0),
)


@pytest.fixture
def put(tmp_path):
    def put(text, name="shop.toml"):
        path = tmp_path / name
        path.write_bytes(text.encode() if isinstance(text, str) else text)
        return path

    return put


@pytest.mark.parametrize("shop", [FULL, Shop(name="plain"), *BUILT_IN], ids=lambda s: s.name.strip())
def test_what_is_written_is_read_again(put, shop):
    text = shop_text(shop)
    assert read_shop(put(text)) == shop
    assert shop_text(read_shop(put(text))) == text


@given(
    fit=st.floats(0, 1e4), ratio=st.floats(0.1, 20), bed=st.tuples(st.floats(1e-3, 1e5), st.floats(1e-3, 1e5)),
    name=st.text(min_size=1).filter(lambda t: t.strip() and "\r" not in t),
)
def test_every_number_and_name_survives(tmp_path_factory, fit, ratio, bed, name):
    name = name.encode("utf-8", "ignore").decode()
    shop = Shop(name=name if name.strip() else "x", fit_gap=fit, cutter=Cutter(hole_ratio=ratio, bed=bed))
    path = tmp_path_factory.mktemp("shop") / "a.toml"
    path.write_bytes(shop_text(shop).encode())
    assert read_shop(path) == shop


def test_a_file_may_be_short_and_in_inches(put):
    shop = read_shop(put('units = "in"\nfit_gap = 0.005\n[cutter]\nbed = [120, 60]\n', "yard.toml"))
    assert shop == Shop(name="yard", fit_gap=0.127, cutter=Cutter(bed=(3048.0, 1524.0)))
    assert read_shop(put("")) == Shop(name="shop")


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("fit_gap =", "shop.toml is not TOML: Invalid value (at"),
        ("fitgap = 1", "shop.toml: fitgap is no key of a shop. Did you mean fit_gap?"),
        ('material = "5052"', "material is no key of a shop"),
        ("fit_gap = -1", "shop.toml: fit_gap is -1 mm. It must be at least 0 mm"),
        ('fit_gap = "11ga"', "another thickness in each metal"),
        ('corner = "round"', "corner is 'round'. Use one of open, half-open, closed"),
        ('[corners]\nsteel = "round"', "corners.steel is 'round'"),
        ('[corners]\nwood = "open"', "corners.wood is no key of a shop"),
        ("overlap = 0.5", "overlap is given, and no corner is half-open"),
        ("[cutter]\nbed = [3000]", "cutter.bed has 1 sides. Give its two"),
        ("[cutter]\nbed = [3000, 0]", "cutter.bed[2] is 0 mm. It must be more than 0 mm"),
        ("[cutter]\nhole_ratio = 0", "cutter.hole_ratio is 0. Give a number from 0.1 to 20"),
        ("[torch]\nlean = 95", "torch.lean is 95. Give a number from 0 to 80"),
        ("[torch]\nnozzle = 0", "torch.nozzle is 0 mm. It must be more than 0 mm"),
        ("[cutter]\nholes = 2", "cutter.holes is no key of a shop. Did you mean hole?"),
        ("[tabs]\nwidth = 0", "tabs.width is 0 mm. It must be more than 0 mm"),
        ("tabs = 3", "tabs is 3. Give a table headed [tabs]"),
        (b"\xff", "shop.toml is no UTF-8 text at byte 0"),
    ],
)
def test_what_is_wrong_in_the_file_is_named(put, text, message):
    with pytest.raises(InputError) as caught:
        read_shop(put(text))
    assert message in str(caught.value)


def test_every_fault_is_named_at_once(put):
    with pytest.raises(InputError) as caught:
        read_shop(put('fit_gap = -1\nx = 2\n[cutter]\nbed = "wide"\n'))
    assert len(str(caught.value).splitlines()) == 3


def test_the_first_built_in_shop_is_what_is_done_without_any():
    assert with_shop(Settings(), BUILT_IN[0]) == Settings()
    assert shop_table(BUILT_IN[0]) == {}
    assert all("no source" in shop.about for shop in BUILT_IN)


def test_a_shop_takes_and_gives_only_its_habits():
    settings = Settings(material="steel A36", thickness=2.0, reach=5.0, sealed=True, fit_gap=0.3)
    taken = with_shop(settings, FULL)
    assert (taken.material, taken.thickness, taken.reach, taken.sealed) == ("steel A36", 2.0, 5.0, True)
    assert shop_of(taken, FULL.name, FULL.about) == FULL
    assert shop_of(settings, "mine").fit_gap == 0.3


def test_a_job_follows_its_shop_and_its_own_values_win(put):
    put(shop_text(FULL))
    path = put('mesh = "t.obj"\nunits = "in"\nshop = "shop.toml"\nfit_gap = 0.01\n[tabs]\ncount = 2\n', "job.toml")
    settings = read_job(path).choices.settings
    assert settings.fit_gap == pytest.approx(0.254)
    assert settings.tabs == TabRule(on=False, width=20.0, flank=15.0, spacing=150.0, keep_out=30.0, count=2)
    assert (settings.torch, settings.cutter.bed) == (FULL.torch, FULL.cutter.bed)
    assert (settings.cutter, settings.limber, settings.dxf_units) == (FULL.cutter, 12.0, "in")
    other = put("limber = 3", "other.toml")
    assert read_job(path, {"shop": str(other)}).choices.settings.limber == 3.0


def test_a_job_with_a_corner_of_its_own_leaves_the_shops_overlap(put):
    put(shop_text(FULL))
    for line, expected in (('corner = "closed"', ("closed", None)), ('corner = "half-open"', ("half-open", None)),
                           ("overlap = 0.4", ("half-open", 0.4))):
        job = read_job(put(f'mesh = "t.obj"\nshop = "shop.toml"\n{line}\n', "job.toml"))
        assert (job.choices.settings.corner, job.choices.settings.overlap) == expected


def test_a_fault_in_the_shop_is_named_by_job_file_and_key(put):
    put("fitgap = 1\n")
    with pytest.raises(InputError) as caught:
        read_job(put('mesh = "t.obj"\nshop = "shop.toml"\nreach = -1\n', "job.toml"))
    assert "job.toml: shop: " in str(caught.value) and "shop.toml: fitgap is no key" in str(caught.value)
    assert "reach" in str(caught.value)
    with pytest.raises(InputError, match=r"none\.toml cannot be opened"):
        job_from_table({"mesh": "t.obj", "shop": "none.toml"})
    with pytest.raises(InputError, match="shop is 3"):
        job_from_table({"mesh": "t.obj", "shop": 3})


def test_the_command_line_follows_a_shop_and_own_metals(put, capsys):
    from tackwright.core.command_line import main

    lines = [f"v {x:g} {y:g} {z:g}" for x, y, z in box().points.tolist()]
    lines += ["f " + " ".join(str(i + 1) for i in box().face(f)) for f in range(6)]
    mesh = put("\n".join(lines), "box.obj")
    shop, metals = put("[cutter]\nbed = [250, 150]\n"), put("name,family,density\ncopper C110,other,8960\n", "own.csv")
    options = ["--sealed", "--shop", str(shop), "--materials", str(metals), "--material", "copper"]
    told = main(["check", str(mesh), *options])
    out = capsys.readouterr().out
    assert told == 0 and "copper C110" in out
    assert "300 x 200 mm, more than the 250 x 150 mm that the cutter takes" in out
    assert main(["check", str(mesh), "--shop", str(mesh)]) == 2
    assert "box.obj is not TOML" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("material", "corners", "overlap", "expected"),
    [
        ("steel A36", {"steel": "open"}, None, 0.0), ("steel A36", {"aluminium": "open"}, None, 1.0),
        ("steel A36", {"steel": "half-open"}, 0.25, 0.25), ("steel A36", {"steel": "half-open"}, None, 0.5),
        ("5052", {"steel": "half-open", "aluminium": "closed"}, 0.25, 1.0), ("5052", {"steel": "half-open"}, 0.25, 0.0),
    ],
)
def test_corners_are_joined_as_the_shop_does_that_family(material, corners, overlap, expected):
    settings = Settings(material=material, corners=corners, overlap=overlap, sealed=True)
    assert {j.overlap for j in make_kit(box(), Choices(settings=settings)).joints} == {expected}


# ---- the limits


def found(cutter, *args, **kwargs):
    return [f for f in check_plates((plate(*args, **kwargs),), 0.1, cutter) if f.rule != "fits_more_than_one_way"]


def test_holes_are_held_to_the_cutters_own_limit():
    hole = [Circle(centre=(50.0, 40.0), diameter=5.0)]
    assert not found(Cutter(), ODD, hole)
    assert [f.rule for f in found(Cutter(hole_ratio=2.0), ODD, hole)] == ["hole_too_small"]  # 2 x 3 mm
    (by_size,) = found(Cutter(hole=5.5), ODD, hole)
    assert "the shop cuts 5.5 mm or more" in by_size.message
    assert not found(Cutter(hole_ratio=0.5, hole=0.5), ODD, [Circle(centre=(50.0, 40.0), diameter=1.6)])


def test_webs_are_held_to_the_cutters_own_limit():
    holes = [Circle(centre=(50.0, 40.0), diameter=8.0), Circle(centre=(62.0, 40.0), diameter=8.0)]  # 4 mm between
    assert not found(Cutter(), ODD, holes)
    (web,) = [f for f in found(Cutter(web_ratio=1.5), ODD, holes) if "two cuts" in f.message]
    assert web.rule == "web_too_small" and "keep 4.5 mm or more" in web.message


def test_sheet_thinner_than_the_shop_takes():
    assert not found(Cutter(), ODD, thickness=1.0)
    (thin,) = found(Cutter(thinnest=1.5), ODD, thickness=1.0)
    assert thin.rule == "thickness_doubtful" and "1 mm is thinner than the 1.5 mm" in thin.message
    assert "foil" in found(Cutter(), ODD, thickness=0.3)[0].message


def test_a_plate_larger_than_the_bed_is_said():
    assert not found(Cutter(bed=(200.0, 100.0)), ODD)  # 200 x 100 exactly
    assert not found(Cutter(bed=(100.0, 200.0)), ODD)
    (large,) = found(Cutter(bed=(190.0, 90.0)), ODD)
    assert large.rule == "plate_too_large" and large.level == "warning" and large.about == ("P01-1",)
    assert "200 x 100 mm, more than the 190 x 90 mm" in large.message


def rectangle(w, h, turn=0.0):
    c, s = math.cos(turn), math.sin(turn)
    return np.array([(0, 0), (w, 0), (w, h), (0, h)]) @ np.array([(c, s), (-s, c)])


@given(w=st.floats(1, 1000), h=st.floats(1, 1000), turn=st.floats(0, 7), bed=st.tuples(*[st.floats(1, 1000)] * 2))
def test_rectangles_fit_as_carvers_rule_says(w, h, turn, bed):
    # a p x q rectangle (p >= q) in an a x b one (a >= b): p <= a and q <= b, or p > a, q <= b and
    # b >= (2 p q a + (p^2 - q^2) sqrt(p^2 + q^2 - a^2)) / (p^2 + q^2). W. B. Carver, Am. Math. Monthly 64 (1957)
    p, q, a, b = max(w, h), min(w, h), max(bed), min(bed)
    def fits(a, b):
        if p <= a:
            return q <= b
        return q <= b and b >= (2 * p * q * a + (p * p - q * q) * math.sqrt(p * p + q * q - a * a)) / (p * p + q * q)

    if fits(a * 0.9999, b * 0.9999) == fits(a * 1.0001, b * 1.0001):  # not within rounding of the limit
        assert fits_bed(rectangle(w, h, turn), bed) == fits(a, b)


def test_a_disc_fits_a_bed_as_wide_as_itself_and_no_narrower():
    around = np.linspace(0, 2 * np.pi, 720, endpoint=False)
    disc = 50.0 * np.column_stack([np.cos(around), np.sin(around)])
    assert fits_bed(disc, (100.0001, 100.0001)) and not fits_bed(disc, (100.0001, 99.9))
    assert smallest_box(rectangle(30.0, 70.0, 0.4)) == pytest.approx((70.0, 30.0))

"""Figures and messages in the reader's units. 1 in = 25.4 mm, 1 lb = 0.45359237 kg, 1 US gal = 231 in3: exact by
definition; the other values are derived from these."""

from __future__ import annotations

import math
import re
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st
from repo_paths import DEMOS

from tackwright.core.stock.lengths import parse_length
from tackwright.core.stock.said_units import length_said, mass_said, run_said, said, volume_said


@pytest.mark.parametrize(
    ("mm", "text"),
    [
        (4.7625, '3/16"'), (38.1, '1 1/2"'), (25.4, '1"'), (0.0, '0"'), (-0.0, '0"'), (0.396875, '1/64"'),
        (-38.1, '-1 1/2"'), (304.8, '12"'), (3.0, '0.118"'), (0.1, '0.0039"'), (0.01, '0.00039"'), (25.0, '0.984"'),
        (3.03784, '0.12"'), (10.3188, '13/32"'), (1e9, '39370078.74"'), (0.0001, '0.0000039"'),
    ],
)
def test_inches(mm, text):
    assert length_said(mm, "in") == text


@pytest.mark.parametrize(
    ("mm", "text"),
    [(12.5, "12.5 mm"), (3.0, "3 mm"), (1200.0, "1200 mm"), (0.0004, "0.0004 mm"), (3.03784, "3.038 mm"),
     (-0.0, "0 mm"), (math.inf, "inf mm")],
)
def test_millimetres(mm, text):
    assert length_said(mm, "mm") == text


@pytest.mark.parametrize("parts", range(1, 640, 7))
def test_every_mark_of_a_steel_rule_is_a_fraction_and_a_twentieth_beside_it_is_none(parts):
    mm = parts * 25.4 / 64
    whole, over = divmod(Fraction(parts, 64), 1)
    written = f"{whole} {over}" if whole and over else f"{over or whole}"
    assert length_said(mm, "in") == f'{written}"'
    assert length_said(float(f"{mm:.6g}"), "in") == f'{written}"', "six digits is what a setting keeps"
    assert "/" not in length_said(mm + 0.02, "in")


@given(st.floats(min_value=1e-3, max_value=1e4))
def test_what_is_said_in_inches_reads_back_as_the_length(mm):
    again = parse_length(length_said(mm, "in"))
    assert again == pytest.approx(mm, abs=0.00051 * 25.4, rel=0.06), "three decimals, or two digits"


@pytest.mark.parametrize(
    ("function", "value", "metric", "imperial"),
    [
        (run_said, 12345.0, "12.3 m", "40.5 ft"), (run_said, 0.0, "0 m", "0 ft"),
        (run_said, 1.5e6, "1500 m", "4921 ft"),
        (volume_said, 3785411.784, "3.79 L", "1 US gal"), (volume_said, 5000.0, "5 mL", "0.305 in³"),
        (volume_said, 16.387064, "16.4 mm³", "0.001 in³"), (volume_said, 3.785411784e9, "3785 L", "1000 US gal"),
        (mass_said, 0.45359237, "0.454 kg", "1 lb"), (mass_said, 0.028349523, "28.3 g", "1 oz"),
        (mass_said, 1234.5, "1234 kg", "2722 lb"),
    ],
)
def test_figures(function, value, metric, imperial):
    assert (function(value, "mm"), function(value, "in")) == (metric, imperial)


@pytest.mark.parametrize(
    ("text", "inches"),
    [
        ("Face 1 is warped by 25.4 mm at (25.4, -12.7, 0) mm. Draw it.",
         'Face 1 is warped by 1" at (1, -0.5, 0) in. Draw it.'),
        ("Give 0 mm up to 100 m.", 'Give 0" up to 328 ft.'),
        ("by edges that move in by 12.70 to 25.40 mm", 'by edges that move in by 1/2" to 1"'),
        ("it is 6.35 x 12.7 mm, and", 'it is 1/4" x 1/2", and'),
        ("share 12.00 mm3 (645.16 mm2) at 90.0 deg", "share 0.000732 in³ (1 in²) at 90.0°"),
        ("645.16 mm² and 16387.064 mm³", "1 in² and 1 in³"),
        ("about 0.1 mm (0.005 in)", "about 0.005 in"),
        ("holds 5.361 L (1.416 US gal); 2.5 mL stay", "holds 1.416 US gal; 0.153 in³ stay"),
        ("The root gap is -3.175 mm", 'The root gap is -1/8"'),
        ("weighs 0.45359237 kg", "weighs 1 lb"),
        ("a 3.175mm, 1e-05 mm", 'a 3.175mm, 0.00000039"'),
        ("'tank 12 mm': 12.7 mm deep", "'tank 12 mm': 1/2\" deep"),
        ("tabs' width is 12.7 mm, the plate's 25.4 mm", 'tabs\' width is 1/2", the plate\'s 1"'),
        ("'Jo's 2 mm' and \"it's 2 mm\" and 'a', 25.4 mm", "'Jo's 2 mm' and \"it's 2 mm\" and 'a', 1\""),
        ('1/8" and 25.4 mm of 1/8" and', '1/8" and 1" of 1/8" and'),
    ],
)
def test_a_message_in_inches(text, inches):
    assert said(text, "in") == inches
    assert said(text, "mm") == text.replace("mm3", "mm³").replace("mm2", "mm²").replace(" deg", "°")
    assert said(inches, "in") == inches, "said twice it stays"


@pytest.mark.parametrize(
    "text",
    ["2680 kg/m3", "Write a length as 3, 3mm, 0.125in or 11ga", "Plates 3-5 mm", "P01-1 and J02", "R5T8 at 45 degrees",
     "Face 12 meets 3 more", "65 °C", "", "5 mmol", "an ISO 9013 cut", "3 max"],
)
def test_what_is_no_figure_stays(text):
    assert said(text, "in") == text


def test_what_the_checks_say_of_the_demo_tank_is_all_said_in_inches():
    from tackwright.core.files.job import read_job
    from tackwright.core.files.read_mesh import read_mesh
    from tackwright.core.make_kit import make_kit

    job = read_job(DEMOS / "bow_tank.toml", {"thickness": "9mm", "fit_gap": "6mm"})
    kit = make_kit(read_mesh(job.mesh_path, unit=job.unit), job.choices)
    figured = [f.message for f in kit.checks if re.search(r"\d (mm|L)", f.message)]
    assert len(figured) > 10
    for message in figured:
        changed = said(message, "in")
        assert not re.search(r"(?<![\w'])\d\S* (mm|m|L|mL)\b", re.sub(r"'[^']*'", "", changed)), changed
        assert re.findall(r"'[^']*'", changed) == re.findall(r"'[^']*'", message)


def test_a_fitting_keeps_its_name():
    from tackwright.core.openings.openings import _fitting_note
    from tackwright.core.stock.fittings import find_fitting
    from tackwright.core.terms.choices import MarkedOpening

    fitting = find_fitting("my 40 mm bung", {"my 40 mm bung": 41.0})
    note = _fitting_note(MarkedOpening(name="fill", at=(0, 0, 0)), fitting)
    assert said(note.text, "in").startswith("Opening 'fill' is 1.614\" for 'my 40 mm bung'")

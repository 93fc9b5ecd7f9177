"""Messages: what a check writes in one piece comes apart into words and quantities, and nothing of that is lost."""

import copy
import json
import math
import pickle

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tackwright.core.stock.lengths import parse_length
from tackwright.core.stock.said_units import said
from tackwright.core.terms.errors import InputError
from tackwright.core.terms.findings import Finding
from tackwright.core.terms.messages import Angle, Area, Length, Liquid, Mass, Message, Place, Run, Volume, raw
from tackwright.core.terms.remedies import Remedy

TOLD = f"'a' has {Length(3.0):g} here, {Area(9.0):.2f} at {Angle(60.0):.1f}"


def test_text_and_quantities_are_apart():
    message = Message(TOLD)
    assert message == "'a' has 3 mm here, 9.00 mm² at 60.0°"
    assert [(one.kind, one.values) for one in message.quantities] == [
        ("length", (3.0,)), ("area", (9.0,)), ("angle", (60.0,))]
    assert [part for part in message.parts if isinstance(part, str)] == ["'a' has ", " here, ", " at ", ""]


@pytest.mark.parametrize(
    ("quantity", "metric", "imperial"),      # inches by their definition, 25.4 mm; the US gallon, 231 cubic inches
    [
        (f"{Length(12.7):.1f}", "12.7 mm", '1/2"'), (f"{Length(25.4, 50.8):g}", "25.4 x 50.8 mm", '1" x 2"'),
        (f"{Length(25.4, 50.8, between=' to '):g}", "25.4 to 50.8 mm", '1" to 2"'),
        (f"{Length(0.0)}", "0 mm", '0"'), (f"{Length(2.50):.2f~}", "2.5 mm", '0.098"'),
        (f"{Run(3048.0):.0f}", "3 m", "10 ft"), (f"{Area(645.16):.2f}", "645.16 mm²", "1 in²"),
        (f"{Volume(16387.064):.0f}", "16387 mm³", "1 in³"), (f"{Liquid(3785411.784)}", "3.79 L", "1 US gal"),
        (f"{Mass(0.45359237):.2f}", "0.45 kg", "1 lb"), (f"{Angle(45.0):.1f}", "45.0°", "45.0°"),
        (f"{Place(0.0, 25.4, -12.7)}", "(0, 25.4, -12.7) mm", "(0, 1, -0.5) in"),
        (f"{Length(math.inf):g}", "inf mm", 'inf"'),
    ],
)
def test_a_quantity_in_both_units(quantity, metric, imperial):
    assert (said(quantity, "mm"), said(quantity, "in")) == (metric, imperial)


@given(st.floats(0.001, 1e5, allow_nan=False))
def test_a_length_in_inches_is_the_same_length(mm):
    assert parse_length(said(f"{Length(mm):g}", "in")) == pytest.approx(mm, abs=0.00051 * 25.4, rel=0.06)


def test_what_stands_in_names_stays_whatever_it_is():
    name = "box 12 mm \ue000length\ue001 45 deg"
    message = Message(f"'{name}' is {Length(25.4):g} long")
    assert [one.values for one in message.quantities] == [(25.4,)]
    assert said(message, "in") == "'box 12 mm length 45 deg' is 1\" long"


def test_a_message_stays_whole_in_another_message_in_a_file_and_in_a_copy():
    inner = Message(TOLD)
    outer = Message(f"File x: {inner.raw}")
    assert outer.quantities == inner.quantities and outer.endswith(inner)
    for again in (pickle.loads(pickle.dumps(inner)), copy.deepcopy(inner), Message(raw(inner)), Message(inner)):
        assert (again, again.parts) == (inner, inner.parts)
    assert json.loads(json.dumps(inner)) == str(inner)
    assert [line.quantities for line in Message(f"one {Length(1.0):g}\ntwo {Length(2.0):g}").lines()] == [
        (Length(1.0),), (Length(2.0),)]


def test_errors_findings_and_remedies_keep_them():
    error = InputError(
        f"{Length(3.0):g} is too thick", where=f"{Place(1.0, 2.0, 3.0)}", by=f"{Length(0.5):.1f}", do="Thin it")
    assert str(error) == "3 mm is too thick at (1, 2, 3) mm, by 0.5 mm. Thin it"
    assert type(str(error)) is str
    assert [one.kind for one in error.message.quantities] == ["length", "place", "length"]
    both = InputError.several([error, InputError(f"{Area(2.0):g}")])
    assert len(both.message.quantities) == 4 and [len(one.message.quantities) for one in both.each] == [3, 1]
    assert isinstance(Finding(rule="r", level="note", message=TOLD).message, Message)
    assert isinstance(Remedy(label=TOLD, changes=()).label, Message)

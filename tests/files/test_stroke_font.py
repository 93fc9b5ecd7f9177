"""The single-stroke font."""

from __future__ import annotations

import itertools
import string

import numpy as np
import pytest

from tackwright.core.files.stroke_font import text_box, text_strokes

LETTERS = string.ascii_letters + string.digits + "-/._+#"


def picture(letter):
    """The runs of one letter as comparable tuples."""
    return tuple(tuple(map(tuple, np.round(run, 9))) for run in text_strokes(letter, 6.0))


def test_every_letter_looks_different_from_all_others_and_from_the_box():
    pictures = [picture(letter) for letter in LETTERS + "?"]
    assert len(set(pictures)) == len(LETTERS) + 1


def test_an_unknown_letter_is_a_box():
    assert picture("é") == picture("水")
    (run,) = text_strokes("é", 6.0)
    assert np.array_equal(run[0], run[-1]) and len(run) == 5


@pytest.mark.parametrize("letter", string.ascii_uppercase + string.digits)
def test_capitals_and_digits_are_as_high_as_asked(letter):
    points = np.concatenate(text_strokes(letter, 7.5))
    assert points[:, 1].min() == 0.0
    assert points[:, 1].max() == pytest.approx(7.5)


@pytest.mark.parametrize("letter", LETTERS)
def test_strokes_move_at_every_step_and_stay_in_the_box(letter):
    left, bottom, right, top = text_box(letter, 3.0)
    for run in text_strokes(letter, 3.0):
        assert len(run) >= 2
        assert np.all(np.abs(np.diff(run, axis=0)).sum(axis=1) > 0)
        assert run[:, 0].min() >= left and run[:, 0].max() <= right + 1e-12
        assert run[:, 1].min() >= bottom and run[:, 1].max() <= top + 1e-12


@pytest.mark.parametrize("letter", LETTERS)
def test_no_stretch_is_drawn_twice(letter):
    steps = [
        tuple(sorted(map(tuple, np.round(step, 9))))
        for run in text_strokes(letter, 6.0)
        for step in itertools.pairwise(run)
    ]
    assert len(set(steps)) == len(steps)


def test_letters_stand_apart():
    for pair in itertools.product("AWM1lI", repeat=2):
        first = np.concatenate(text_strokes(pair[0], 6.0))[:, 0].max()
        second = np.concatenate(text_strokes("".join(pair), 6.0)[len(text_strokes(pair[0], 6.0)) :])[:, 0].min()
        assert second - first == pytest.approx(2.0)


def test_a_space_is_empty_and_wide():
    assert text_strokes(" ", 6.0) == []
    assert text_box("A A", 6.0)[2] > text_box("AA", 6.0)[2] + 3
    assert text_box("", 6.0) == (0.0, 0.0, 0.0, 0.0)

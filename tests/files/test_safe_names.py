"""File names that every file system takes."""

from __future__ import annotations

import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tackwright.core.files.safe_names import safe_name, unique_names

# Source: Microsoft, "Naming Files, Paths, and Namespaces".
DEVICES = ["CON", "PRN", "AUX", "NUL", *(f"{d}{n}" for d in ("COM", "LPT") for n in "123456789¹²³")]


@pytest.mark.parametrize("device", DEVICES)
@pytest.mark.parametrize("form", ["{}", "{}.txt", "{}.tar.gz", "{} ", "{}."])
def test_a_device_name_is_changed(device, form):
    for name in (form.format(device), form.format(device.lower())):
        assert safe_name(name).split(".")[0].upper() not in DEVICES


@pytest.mark.parametrize("text", ["", " ", "...", "---", "???", "\x00\n", "\u200b", "\ud800", "/"])
def test_nothing_becomes_a_name(text):
    assert safe_name(text) == "unnamed"


def test_letters_of_any_script_stay():
    assert safe_name("水箱 Größe ж") == "水箱_Größe_ж"


def test_composed_and_decomposed_letters_are_one_name():
    assert safe_name("Größe") == safe_name(unicodedata.normalize("NFD", "Größe"))


def test_no_way_up():
    assert safe_name("../../etc/passwd") == "etc_passwd"


def test_names_that_differ_in_case_are_told_apart():
    assert unique_names(["Lid", "lid", "LID", "lid_2"]) == ("Lid", "lid_2", "LID_3", "lid_2_2")


def test_many_alike_are_quick_and_apart():
    names = unique_names(["x" * 300] * 3000)
    assert len({n.casefold() for n in names}) == 3000
    assert max(len(n.encode()) for n in names) <= 96


@given(st.text())
def test_every_text_gives_a_name_all_take(text):
    name = safe_name(text)
    assert name and len(name.encode()) <= 96
    assert not set(name) & set('<>:"/\\|?*') and name.isprintable() and not any(c.isspace() for c in name)
    assert name[0] not in ".-" and name[-1] not in ". "
    assert name.split(".")[0].upper() not in DEVICES
    assert safe_name(name).strip("_") == name.strip("_")


@given(st.lists(st.text(max_size=5)))
def test_no_two_names_collide(texts):
    names = unique_names(texts)
    assert len({unicodedata.normalize("NFD", n).casefold() for n in names}) == len(texts)

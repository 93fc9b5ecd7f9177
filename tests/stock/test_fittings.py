"""The table of fittings, finding one by what people call it, and the user's own CSV file."""

from __future__ import annotations

import pytest

from tackwright.core.stock.fittings import CLEARANCE, FITTINGS, find_fitting, read_fittings_csv
from tackwright.core.terms.errors import InputError

B36_10 = "ASME B36.10 / B1.20.1, outside of pipe, inches; read in several printed tables"
B16_11 = "ASME B16.11, class 3000 threaded couplings, outside, mm; read in a maker's reprint"
ISO_228 = "ISO 228-1, major diameter, mm; read in several reprints"
ISO_1307 = "ISO 1307 hose bores, read in a hose maker's list; that the tube is as wide is practice"


@pytest.mark.parametrize(
    ("name", "outside", "source"),
    [
        *((f"NPT {size}", inches * 25.4, B36_10) for size, inches in (
            ("1/8", 0.405), ("1/4", 0.540), ("3/8", 0.675), ("1/2", 0.840), ("3/4", 1.050), ("1", 1.315),
            ("1 1/4", 1.660), ("1 1/2", 1.900), ("2", 2.375), ("2 1/2", 2.875), ("3", 3.5))),
        *((f"NPT {size} coupling", mm, B16_11) for size, mm in (
            ("1/8", 16), ("1/4", 19), ("3/8", 22), ("1/2", 28), ("3/4", 35), ("1", 44), ("1 1/4", 57), ("1 1/2", 64),
            ("2", 76), ("2 1/2", 92), ("3", 108))),
        *((f"G {size}", mm, ISO_228) for size, mm in (
            ("1/8", 9.728), ("1/4", 13.157), ("3/8", 16.662), ("1/2", 20.955), ("3/4", 26.441), ("1", 33.249),
            ("1 1/4", 41.910), ("1 1/2", 47.803), ("2", 59.614))),
        *((f"M {size}", mm, "ISO 6149-1 sizes; ISO 261: major = nominal") for size, mm in (
            ("10 x 1", 10), ("18 x 1.5", 18), ("22 x 1.5", 22), ("27 x 2", 27), ("33 x 2", 33), ("48 x 2", 48))),
        *((f"hose {bore}", tube, ISO_1307) for bore, tube in (
            ("6.3", 6), ("12.5", 12), ("16", 16), ("19", 19), ("25", 25), ("31.5", 32), ("38", 38), ("51", 51))),
        ("filler neck 2 in", 50.8, "common practice"),
        ("filler neck 2 1/4 in", 57.15, "common practice"),
        ("bung 1 1/8 in", 28.575, "common practice: a size of bar"),
    ],
)
def test_outside_size_and_its_hole(name, outside, source):
    fitting = find_fitting(name, {})
    assert fitting.outside == pytest.approx(outside), source
    assert fitting.hole == pytest.approx(outside + CLEARANCE)


def test_the_clearance_is_within_what_is_practised():
    assert 0.2 <= CLEARANCE <= 0.5          # common practice for a weld-in fitting, on the diameter


def test_a_coupling_is_wider_than_its_pipe_and_a_pipe_than_the_one_before():
    outside = {f.name: f.outside for f in FITTINGS}
    sizes = ["1/8", "1/4", "3/8", "1/2", "3/4", "1", "1 1/4", "1 1/2", "2", "2 1/2", "3"]
    for kind in ("NPT {}", "NPT {} coupling"):
        row = [outside[kind.format(s)] for s in sizes]
        assert row == sorted(row) and len(set(row)) == len(row)
    assert all(outside[f"NPT {s} coupling"] > outside[f"NPT {s}"] for s in sizes)


def test_every_row_says_where_it_is_from_and_what_is_only_practice():
    for fitting in FITTINGS:
        standard = any(word in fitting.source for word in ("ASME", "ISO"))
        assert standard or fitting.source.startswith("common practice, no source"), fitting.name
        if not standard:
            assert "measure the one in hand" in fitting.remarks, fitting.name


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("npt 1/2", "NPT 1/2"), ("NPT1/2", "NPT 1/2"), ('1/2" NPT', "NPT 1/2"), ("NPT ½", "NPT 1/2"),
        ("npt 1½", "NPT 1 1/2"), ("NPT 1-1/2", "NPT 1 1/2"), ("NPT 1/2 half coupling", "NPT 1/2 coupling"),
        ("G1/2", "G 1/2"), ("bspp 3/4", "G 3/4"), ("m18x1.5", "M 18 x 1.5"), ("M18 × 1.5", "M 18 x 1.5"),
        ("TUBE 25", "tube 25"), ("tube 25mm", "tube 25"), ("filler neck 2.25", "filler neck 2 1/4 in"),
        ('Bung 1 1/8"', "bung 1 1/8 in"), ("bung 28", "bung 28"),
    ],
)
def test_a_fitting_is_found_however_its_name_is_typed(text, name):
    assert find_fitting(text, {}).name == name


def test_every_name_finds_its_own_row_and_no_two_rows_share_one():
    for fitting in FITTINGS:
        for name in (fitting.name, *fitting.also):
            assert find_fitting(name, {}) is fitting, name


def test_the_users_own_fittings_go_first():
    own = {"Sender flange": 54.0, "npt 1/2": 33.0}
    assert find_fitting("sender  FLANGE", own).hole == 54.0
    assert find_fitting("NPT 1/2", own).hole == 33.0
    assert find_fitting("NPT 1/2", own).outside is None


def test_an_unknown_fitting_is_refused_with_what_is_close():
    with pytest.raises(InputError, match=r"fitting 'NTP 1/2' is not known. Did you mean .*'NPT 1/2'.*tackwright fitt"):
        find_fitting("NTP 1/2", {})
    with pytest.raises(InputError, match="Did you mean 'Sender flange'"):
        find_fitting("sender flnge", {"Sender flange": 54.0})
    with pytest.raises(InputError, match="'xyzzy' is not known. 'tackwright fittings' lists"):
        find_fitting("xyzzy", {})


# ---- the user's own file

@pytest.fixture
def put(tmp_path):
    def write(data):
        path = tmp_path / "own.csv"
        path.write_bytes(data if isinstance(data, bytes) else data.encode())
        return path

    return write


def test_a_csv_of_own_fittings_is_read(put):
    path = put('\ufeffName,Hole,seen at\r\nmy bung,28.4\r\n\r\n"neck, bent",2 1/4in,shop\r\nsender,0.5in,\r\n')
    assert read_fittings_csv(path) == {
        "my bung": 28.4, "neck, bent": pytest.approx(57.15), "sender": pytest.approx(12.7)}


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", "own.csv is empty. Begin it with the line name,hole"),
        ("name;hole\na;3\n", "own.csv, line 1: the columns are name;hole. Begin the file with the line name,hole"),
        ("a,3\n", "line 1: the columns are a, 3"),
        ("name,hole\na\n", "own.csv, line 2 lacks a name or a hole. Give both"),
        ("name,hole\n,3\n", "line 2 lacks a name or a hole"),
        ("name,hole\na,wide\n", "own.csv, line 2: 'wide' is not a length. Write a length as"),
        ("name,hole\n\na,0\n", "own.csv, line 3: the hole is 0 mm. It must be more than 0 mm"),
        ("name,hole\na,-3mm\n", "line 2: the hole is -3 mm"),
        ("name,hole\na,nan\n", "line 2: 'nan' is not a length"),
        ("name,hole\nA bung,3\na  BUNG,4\n", "line 3: 'a  BUNG' stands in line 2 already. Keep one"),
        (b"name,hole\n\xff,3\n", "own.csv is no UTF-8 text at byte 10"),
    ],
)
def test_what_is_wrong_in_the_file_is_named_by_its_line(put, text, message):
    with pytest.raises(InputError) as caught:
        read_fittings_csv(put(text))
    assert message in str(caught.value)


def test_every_fault_in_the_file_is_named_at_once(put):
    with pytest.raises(InputError) as caught:
        read_fittings_csv(put("name,hole\na,0\nb,x\nc\n"))
    assert [line.split("line ")[1][0] for line in str(caught.value).splitlines()] == ["2", "3", "4"]


def test_a_missing_file_is_named(tmp_path):
    with pytest.raises(InputError, match="none.csv cannot be opened: No such file"):
        read_fittings_csv(tmp_path / "none.csv")

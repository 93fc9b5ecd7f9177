"""The command line: words in; text, files and an exit code out."""

from __future__ import annotations

import io
import json
import subprocess
import sys
import types

import numpy as np
import pytest

from tackwright.core.command_line import main
from tackwright.core.kit.kit import Joint, Kit, KitEnvelope, KitPlate, Placement
from tackwright.core.shapes.outline import Contour, Outline
from tackwright.core.terms.errors import InputError
from tackwright.core.terms.findings import Finding
from tackwright.core.terms.progress import progress_bar

BOX = [(x * 300.0, y * 200.0, z * 150.0) for z in (0, 1) for x, y in ((0, 0), (1, 0), (1, 1), (0, 1))]
BOX_FACES = {"bottom": (0, 3, 2, 1), "top": (4, 5, 6, 7), "front": (0, 1, 5, 4), "right": (1, 2, 6, 5),
             "back": (2, 3, 7, 6), "left": (3, 0, 4, 7)}


@pytest.fixture
def box(tmp_path, monkeypatch):
    """The path of a box of 300 x 200 x 150 as OBJ, in the working folder."""
    monkeypatch.chdir(tmp_path)
    lines = [f"v {x} {y} {z}" for x, y, z in BOX]
    for name, face in BOX_FACES.items():
        lines += [f"g {name}", "f " + " ".join(str(c + 1) for c in face)]
    (tmp_path / "box.obj").write_text("\n".join(lines) + "\n")
    return "box.obj"


def small_kit(mesh, choices, name, checks=()):
    """A kit of one square plate, twice, as the whole way would give it."""
    square = Outline(outer=Contour(points=np.array([(0.0, 0.0), (100.0, 0.0), (100.0, 100.0), (0.0, 100.0)])))
    settings = choices.settings
    plate = KitPlate(
        mark="P01", name="side", material=settings.material, density=2680.0, thickness=settings.thickness,
        role="wall", metal_side=settings.metal_side, outline=square, area=1e4, mass=0.25, cut_length=400.0,
        pierces=1, size=(100.0, 100.0), borders=(),
        placements=tuple(Placement(id=f"P01-{i}", panel="side", faces=(i,), matrix=np.eye(4)) for i in (1, 2)),
    )
    joint = Joint(
        id="J01", kind="open_corner", plates=("P01-1", "P01-2"), line=np.array([(0.0, 0, 0), (100.0, 0, 0)]),
        length=100.0, angle=90.0, overlap=0.0, root_gap=0.0, groove=None, tabs=(), mesh_edges=(),
    )
    shell = KitEnvelope(name="tank", closed=True, capacity=231 * 25.4**3, plates=("P01-1", "P01-2"))
    return Kit(name=name or mesh.name, settings=settings, plates=(plate,), joints=(joint,), corners=(),
               envelopes=(shell,), checks=tuple(checks))


ERROR = Finding(
    rule="too_thin", level="error", message="the web is 1 mm. Make it 3 mm", about=("P01-1",), at=(1.0, 2.0, -0.01)
)
WARNING = Finding(rule="crevice", level="warning", message="a crevice of 0.6 mm2 stays. Give less overlap")
NOTE = Finding(rule="fits_two_ways", level="note", message="fits two ways round", about=("P01-1", "P01-2"))


@pytest.fixture
def solver(monkeypatch):
    """Stands in for the whole way: `solver.checks` is what it finds, `solver.asked` what it was asked."""
    fake = types.SimpleNamespace(checks=(), asked=[])

    def make_kit(mesh, choices, *, name=None, progress=None):
        if progress:
            progress("solve", 0, 1)
        fake.asked.append((mesh, choices, name))
        return small_kit(mesh, choices, name, fake.checks)

    module = types.ModuleType("tackwright.core.make_kit")
    module.make_kit = make_kit
    monkeypatch.setitem(sys.modules, "tackwright.core.make_kit", module)
    return fake


# ---- kit

def test_kit_writes_the_folder_and_says_what_it_holds(box, solver, capsys, tmp_path):
    solver.checks = (WARNING, NOTE)
    assert main(["kit", box, "--thickness", "3"]) == 0
    out, err = capsys.readouterr()
    assert out.splitlines() == [
        "box_kit",
        "2 plates, 1 distinct, of aluminium 5052-H32, 3 mm",
        "1 joint, 0 corners",
        "0.50 kg, 0.8 m to cut, 2 pierces",
        "tank holds 3.785 L (1 US gal)",
        "checks: 1 warning, 1 note",
    ]
    assert err == ""
    assert json.loads((tmp_path / "box_kit" / "kit.json").read_text())["name"] == "box"


def test_out_name_and_replace(box, solver, capsys, tmp_path):
    words = ["kit", box, "--out", "made/here", "--name", "header tank"]
    assert main(words) == 0
    assert (tmp_path / "made" / "here" / "header_tank_kit" / "kit.json").is_file()
    assert main(words) == 2
    assert "header_tank_kit" in capsys.readouterr().err
    assert main([*words, "--replace"]) == 0


def test_options_reach_the_choices(box, solver):
    words = [
        "--material", "304", "--thickness", "11ga", "--metal-side", "outside", "--corner", "half-open",
        "--overlap", "0.25", "--root-gap", "1/16in", "--fit-gap", "0.2mm", "--tabs", "off", "--etch", "off",
        "--dxf-units", "in", "--note", "off", "--file-names", "{quantity}x_{mark}", "--sealed",
    ]
    assert main(["check", box, *words]) == 0
    settings = solver.asked[0][1].settings
    assert settings.material == "stainless 304"
    assert settings.thickness == pytest.approx(0.1250 * 25.4)
    assert settings.root_gap == pytest.approx(25.4 / 16)
    assert (settings.metal_side, settings.corner, settings.overlap) == ("outside", "half-open", 0.25)
    assert (settings.fit_gap, settings.tabs.on, settings.etch, settings.dxf_units) == (0.2, False, False, "in")
    assert (settings.note, settings.file_names) == (False, "{quantity}x_{mark}")
    assert settings.sealed is True
    assert main(["check", box]) == 0
    assert solver.asked[1][1].settings.sealed is False


def test_units_scale_the_mesh_and_plain_numbers(box, solver):
    assert main(["check", box, "--units", "in", "--thickness", "0.125"]) == 0
    mesh, choices, _ = solver.asked[0]
    assert mesh.points.max() == pytest.approx(300 * 25.4)
    assert choices.settings.thickness == pytest.approx(3.175)


def test_an_option_overrides_the_job_and_leaves_the_rest(box, solver, tmp_path):
    (tmp_path / "job.toml").write_text(
        'mesh = "box.obj"\nname = "tank"\nmaterial = "6061"\nthickness = 4\n'
        "[tabs]\ncount = 2\n[panels.top]\nthickness = 5\n"
    )
    assert main(["check", "job.toml", "--thickness", "2", "--tabs", "off"]) == 0
    _, choices, name = solver.asked[0]
    assert (name, choices.settings.material, choices.settings.thickness) == ("tank", "aluminium 6061-T6", 2.0)
    assert (choices.settings.tabs.count, choices.settings.tabs.on) == (2, False)
    assert choices.panels["top"].thickness == 5.0


def test_an_error_check_stops_the_writing(box, solver, capsys, tmp_path):
    solver.checks = (NOTE, ERROR)
    assert main(["kit", box]) == 3
    out, err = capsys.readouterr()
    assert out == ""
    assert "P01-1 at (1.0, 2.0, 0.0): the web is 1 mm. Make it 3 mm" in err
    assert "Nothing was written; --even-so writes it all the same." in err
    assert not (tmp_path / "box_kit").exists()


def test_even_so_writes_it_and_still_says_3(box, solver, capsys, tmp_path):
    solver.checks = (ERROR,)
    assert main(["kit", box, "--even-so"]) == 3
    assert (tmp_path / "box_kit" / "kit.json").is_file()
    assert "box_kit was written even so." in capsys.readouterr().err


# ---- check

def test_check_lists_all_findings_by_level_and_writes_nothing(box, solver, capsys, tmp_path):
    solver.checks = (NOTE, WARNING, ERROR)
    assert main(["check", box]) == 3
    out = capsys.readouterr().out
    assert out[out.index("1 error:") :].splitlines() == [
        "1 error:",
        "  P01-1 at (1.0, 2.0, 0.0): the web is 1 mm. Make it 3 mm",
        "1 warning:",
        "  a crevice of 0.6 mm² stays. Give less overlap",
        "1 note:",
        "  P01-1 P01-2: fits two ways round",
    ]
    assert [p.name for p in tmp_path.iterdir()] == ["box.obj"]


def test_check_without_an_error_is_0(box, solver, capsys):
    assert main(["check", box]) == 0
    assert capsys.readouterr().out.endswith("nothing found\n")
    solver.checks = (WARNING, NOTE)
    assert main(["check", box]) == 0


# ---- for scripts

def test_json_is_all_there_is_on_standard_output(box, solver, capsys):
    solver.checks = (WARNING,)
    assert main(["kit", box, "--json", "--name", "Füße"]) == 0
    out, err = capsys.readouterr()
    data = json.loads(out)
    assert err == "" and out.isascii()
    assert (data["name"], data["folder"]) == ("Füße", "Füße_kit")
    assert (data["plates"], data["placements"], data["joints"]) == (1, 2, 1)
    assert data["mass"] == pytest.approx(0.5)
    assert data["cut_length"] == pytest.approx(800.0)
    assert data["capacities"] == {"tank": pytest.approx(3785411.784)}        # 1 US gal = 3.785411784 L exactly
    assert data["checks"] == {"error": 0, "warning": 1, "note": 0}
    assert data["findings"][0]["rule"] == "crevice"


def test_json_of_a_refusal_says_what_and_where(box, solver, capsys):
    assert main(["check", box, "--thickness", "thin", "--json"]) == 2
    out, err = capsys.readouterr()
    assert json.loads(out)["error"]["what"].startswith("thickness is 'thin'")
    assert err.startswith("tackwright: thickness is 'thin'")


def test_json_of_a_kit_that_was_not_written_has_no_folder(box, solver, capsys):
    solver.checks = (ERROR,)
    assert main(["kit", box, "--json"]) == 3
    assert json.loads(capsys.readouterr().out)["folder"] is None


# ---- refusals

@pytest.mark.parametrize(
    ("words", "message"),
    [
        (["kit", "none.obj"], "none.obj cannot be opened: No such file"),
        (["kit", "none.toml"], "none.toml cannot be opened: No such file"),
        (["check", "box.step"], "box.step is no mesh file that can be read"),
        (["kit", "box.obj", "--thickness", "0"], "thickness is 0 mm. It must be more than 0 mm"),
        (["kit", "box.obj", "--material", "oak"], "material 'oak' is not known. There is aluminium 5052-H32"),
        (["kit", "box.obj", "--overlap", "2"], "overlap is 2.0. Give a number from 0 to 1"),
        (["kit", "box.obj", "--overlap", "half"], "'half' is not a number from 0 to 1"),
        (["kit", "box.obj", "--corner", "mitred"], "invalid choice: 'mitred'"),
        (["kit"], "the following arguments are required: ENVELOPE_OR_JOB"),
        ([], "the following arguments are required: COMMAND"),
        (["fold"], "invalid choice: 'fold'"),
    ],
)
def test_refused_input_is_2_and_named_on_standard_error(box, solver, capsys, words, message):
    assert main(words) == 2
    out, err = capsys.readouterr()
    assert message in err and out == ""


def test_an_error_of_the_solver_is_told_and_is_2(box, monkeypatch, capsys):
    error = InputError("torn", where="edge 7", do="Close it")

    def make_kit(*args, **rest):
        raise error

    module = types.ModuleType("tackwright.core.make_kit")
    module.make_kit = make_kit
    monkeypatch.setitem(sys.modules, "tackwright.core.make_kit", module)
    assert main(["kit", box]) == 2
    assert capsys.readouterr().err == f"tackwright: {error}\n"


def test_a_refusal_names_the_key_of_a_job_that_cures_it(tmp_path, capsys):
    """An angle with a rib that is joined to nothing: the key that is named, put into a job, builds it."""
    (tmp_path / "angle.obj").write_text(
        "v 0 0 0\nv 200 0 0\nv 200 120 0\nv 0 120 0\nv 0 0 200\nv 0 120 200\nv 0 60 0\nv 100 60 0\nv 0 60 100\n"
        "g floor\nf 4 3 2 1\ng back\nf 5 6 4 1\ng mid rib\nf 7 8 9\n")
    job = tmp_path / "angle.toml"
    job.write_text('mesh = "angle.obj"\nunits = "mm"\n')
    assert main(["check", str(job)]) == 2
    err = capsys.readouterr().err
    (key,) = {line.partition("In a job: in ")[2] for line in err.splitlines()}
    assert key.endswith(": inner = true")
    job.write_text(job.read_text() + key.replace(": ", "\n") + "\n")
    assert main(["check", str(job)]) == 0, capsys.readouterr().err


def test_a_bug_is_not_swallowed(box, monkeypatch):
    module = types.ModuleType("tackwright.core.make_kit")
    module.make_kit = lambda *args, **rest: {}["missing"]
    monkeypatch.setitem(sys.modules, "tackwright.core.make_kit", module)
    with pytest.raises(KeyError, match="missing"):
        main(["kit", box])


# ---- inner plates in meshes of their own

def baffle(name, x, folder):
    corners = [(x, 0, 0), (x, 200, 0), (x, 200, 150), (x, 0, 150)]
    lines = [f"v {a} {b} {c}" for a, b, c in corners]
    (folder / name).write_text("\n".join([*lines, "g baffle", "f 1 2 3 4"]) + "\n")


def test_meshes_of_inner_plates_are_joined_to_the_envelope(box, solver, tmp_path):
    baffle("one.obj", 100, tmp_path)
    baffle("two.obj", 200, tmp_path)
    (tmp_path / "job.toml").write_text(
        'mesh = "box.obj"\nunits = "m"\n[[inner]]\nmesh = "one.obj"\n[[inner]]\nmesh = "two.obj"\n')
    assert main(["check", "job.toml"]) == 0
    mesh, choices, _ = solver.asked[0]
    assert mesh.face_count == 8 and len(mesh.points) == 16
    assert sorted(f for f, c in choices.faces.items() if c.inner) == [6, 7]
    assert sorted({round(x) for x in mesh.points[mesh.face(7), 0]}) == [200_000]      # in the job's unit


def test_a_missing_mesh_of_inner_plates_is_named(box, solver, capsys, tmp_path):
    (tmp_path / "job.toml").write_text('mesh = "box.obj"\n[[inner]]\nmesh = "none.obj"\n')
    assert main(["check", "job.toml"]) == 2
    assert "none.obj cannot be opened: No such file" in capsys.readouterr().err


# ---- help, materials and fittings

@pytest.mark.parametrize(("words", "taught"), [
    (["--help"], ["tackwright kit tank.obj", "11ga", "exit codes: 0 done; 2"]),
    (["kit", "--help"], ["--even-so", "[[joints]]", "between =", "--metal-side", "--root-gap", "--fit-gap"]),
    (["check", "--help"], ["errors cannot be built as drawn"]),
])
def test_help_teaches(capsys, words, taught):
    assert main(words) == 0
    out = capsys.readouterr().out
    for text in taught:
        assert text in out


def test_the_job_in_the_help_is_a_good_one(capsys, tmp_path):
    from tackwright.core.files.job import read_job

    main(["kit", "--help"])
    text = capsys.readouterr().out
    lines = text[text.index('  mesh = "tank') :].splitlines()
    (tmp_path / "job.toml").write_text("\n".join(line[2:] for line in lines))
    job = read_job(tmp_path / "job.toml")
    assert job.choices.panels["lid"].thickness == 4.0
    assert job.choices.joints["front", "lid"].through == "lid"
    assert [o.name for o in job.choices.openings] == ["fill", "hand hole"]
    assert job.choices.fields[0].bands[0].code == "R5T8"
    assert job.inner_paths == (tmp_path / "baffles.obj",)


def test_materials_lists_each_with_its_sources(capsys):
    assert main(["materials"]) == 0
    lines = capsys.readouterr().out.splitlines()
    row = next(i for i, line in enumerate(lines) if line.startswith("aluminium 6061-T6"))
    assert "2700" in lines[row] and "open" in lines[row]
    assert "cracks without filler" in lines[row + 1] and "from memory: ASTM B209" in lines[row + 1]
    assert main(["materials", "--json"]) == 0
    data = {m["name"]: m for m in json.loads(capsys.readouterr().out)}
    assert data["stainless 304"]["density"] == 7930.0
    assert data["aluminium 6061-T6"]["needs_filler"] is True


def test_fittings_lists_each_with_its_source(capsys):
    assert main(["fittings"]) == 0
    lines = capsys.readouterr().out.splitlines()
    row = next(i for i, line in enumerate(lines) if line.startswith("NPT 1/2 "))
    assert "21.34" in lines[row] and "21.84" in lines[row] and "ASME B36.10" in lines[row + 1]
    row = next(i for i, line in enumerate(lines) if line.startswith("bung 28 "))
    assert "measure the one in hand" in lines[row + 1] and "no source" in lines[row + 1]
    assert lines[-1].startswith("The hole is 0.5 mm more than the outside.")
    assert main(["fittings", "--json"]) == 0
    data = {f["name"]: f for f in json.loads(capsys.readouterr().out)}
    assert data["G 1/2"]["outside"] == 20.955 and data["G 1/2"]["hole"] == pytest.approx(21.455)
    assert "ISO 228-1" in data["G 1/2"]["source"]


# ---- the progress bar

class Terminal(io.StringIO):
    def isatty(self):
        return True


def test_the_progress_bar_shows_the_stage_on_a_terminal():
    terminal = Terminal()
    with progress_bar(terminal) as progress:
        progress("solve", 0, 1)
        progress("write", 3, 8)
    assert "solve" in terminal.getvalue() and "3/8" in terminal.getvalue()


def test_the_progress_bar_is_silent_in_a_file_and_without_its_library(monkeypatch):
    quiet = io.StringIO()
    with progress_bar(quiet) as progress:
        progress("solve", 0, 1)
    assert quiet.getvalue() == ""
    monkeypatch.setitem(sys.modules, "tqdm", None)
    terminal = Terminal()
    with progress_bar(terminal) as progress:
        progress("solve", 0, 1)
    assert terminal.getvalue() == ""


# ---- the whole way, nothing stood in

def test_a_box_becomes_a_kit_of_the_right_capacity(box, tmp_path):
    words = ["kit", box, "--thickness", "3mm", "--json", "--sealed"]       # without an opening it is a closed space
    done = subprocess.run(
        [sys.executable, "-m", "tackwright.core.command_line", *words], cwd=tmp_path, capture_output=True, text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    data = json.loads(done.stdout)
    assert (data["placements"], data["joints"], data["corners"]) == (6, 12, 8)
    assert data["capacities"] == {"box": pytest.approx(294 * 194 * 144)}     # the box less 3 mm all round
    assert data["mass"] == pytest.approx(2680e-9 * 3 * 2 * (294 * 194 + 294 * 144 + 194 * 144), rel=0.02)
    kit = json.loads((tmp_path / "box_kit" / "kit.json").read_text())
    # the file's groups name the panels; pieces that are alike share a mark and carry all their names
    assert {name for p in kit["plates"] for name in p["name"].split(" + ")} == set(BOX_FACES)


def test_a_reader_that_has_seen_enough_is_no_fault():
    """As `tackwright fittings | head` does: the pipe is closed before all is written."""
    code = "import sys; from tackwright.core.command_line import main; sys.exit(main(['fittings']))"
    with subprocess.Popen([sys.executable, "-c", code], stdout=subprocess.PIPE, stderr=subprocess.PIPE) as done:
        done.stdout.close()
        said = done.stderr.read().decode()
    assert said == "" and done.returncode == 0


ENDED = """
import os, signal, sys, time
from tackwright.core import command_line
from tackwright.core.files import kit_folder

def slow(kit):
    yield "kit.json", b"{}"
    os.kill(os.getpid(), signal.SIGTERM)
    time.sleep(60)

kit_folder.kit_files = slow
sys.exit(command_line.main(["kit", sys.argv[1], "--sealed", "--out", sys.argv[2]]))
"""


@pytest.mark.skipif(sys.platform == "win32", reason="Windows ends a process at once, without asking it")
def test_a_request_to_end_leaves_nothing_half_written(box, tmp_path):
    out = tmp_path / "out"
    done = subprocess.run(
        [sys.executable, "-c", ENDED, str(box), str(out)], capture_output=True, text=True, check=False, timeout=50)
    assert (done.returncode, done.stderr) == (130, "Stopped.\n")
    assert not out.exists()

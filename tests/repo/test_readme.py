"""What the README shows is what happens: its printed kit, its job, its commands, the labels it speaks of."""

from __future__ import annotations

import re
import shlex

import pytest
from repo_paths import ROOT

README = (ROOT / "README.md").read_text(encoding="utf-8")


def blocks(language):
    return re.findall(rf"^```{language}\n(.*?)^```$", README, flags=re.MULTILINE | re.DOTALL)


def run(capsys, *words):
    from tackwright.core.command_line import main

    code = main(words)
    return code, capsys.readouterr().out


def test_make_kit_ends_as_shown(capsys, tmp_path):
    (shown,) = (block for block in blocks("") if block.startswith("build/kit/"))
    code, said = run(capsys, "kit", str(ROOT / "demo_scenes/bow_tank.toml"), "--out", str(tmp_path))
    assert code == 0
    assert said.splitlines()[1:] == shown.splitlines()[1:]


def test_the_job_is_made_without_an_error_and_does_what_is_said_of_it(tmp_path):
    from tackwright.core.files.job import read_job
    from tackwright.core.files.read_mesh import read_mesh
    from tackwright.core.make_kit import make_kit

    path = tmp_path / "job.toml"
    path.write_text("\n".join(blocks("toml")).replace("bow_tank.obj", (ROOT / "demo_scenes/bow_tank.obj").as_posix()))
    job = read_job(path)
    kit = make_kit(read_mesh(job.mesh_path, unit=job.unit), job.choices)
    assert [f.message for f in kit.checks if f.level == "error"] == []
    plates = {plate.placements[0].panel: plate for plate in kit.plates}
    panels = {plate.placements[0].id: panel for panel, plate in plates.items()}
    assert (plates["bottom"].thickness, plates["aft_baffle"].thickness, plates["fore_baffle"].thickness) == (4, 4, 3)
    cut = {(panels[o.plate], o.purpose) for o in kit.openings}
    assert {("fore_deck", "port"), ("aft_deck", "hand_hole"), ("fore_baffle", "perforation")} <= cut
    assert {("aft_baffle", "limber"), ("fore_baffle", "limber")} <= cut
    tabs = {frozenset(panels[p] for p in joint.plates): len(joint.tabs) for joint in kit.joints}
    assert tabs[frozenset({"aft_baffle", "aft_deck"})] == 0
    assert tabs[frozenset({"aft_baffle", "bottom"})] > 0


@pytest.mark.parametrize("words", [
    shlex.split(line, comments=True)[1:] for block in blocks("") for line in block.splitlines()
    if re.match(r"tackwright (check|materials|fittings|--help)", line)
], ids=" ".join)  # fmt: skip
def test_the_commands_run(capsys, words):
    words = [str(ROOT / word) if word.startswith("demo_scenes/") else word for word in words]
    code, said = run(capsys, *words)
    assert code == 0
    assert said


def test_the_python_example_runs(capsys, monkeypatch, tmp_path):
    (example,) = blocks("python")
    monkeypatch.chdir(tmp_path)
    exec(example.replace("demo_scenes/", (ROOT / "demo_scenes").as_posix() + "/"), {})
    assert "4 plates, 4 distinct, of steel A36, 2 mm" in capsys.readouterr().out
    assert (tmp_path / "build/kits/hopper_kit/kit.json").exists()


@pytest.mark.parametrize("label", [
    "Make Plates", "Export Kit", "Inner Plates", "Inner Plate", "Assign", "Limber Holes", "Openings", "Add Opening",
    "Own Fittings", "Perforations", "Sealed on Purpose", "Demo Tank", "New Envelope", "Open Job", "Use Scan",
    "Set Floor", "Set Wall", "Square Up", "Known Distance", "Check Clearance", "True Faces", "Live", "Solid",
    "Spread", "Flat", "Bare", "Open Folder", "Show Choices", "Swap",
    "Edit Envelope",
])
def test_labels_are_those_of_the_editor(label):
    assert label in README
    assert any(f'"{label}"' in path.read_text(encoding="utf-8") for path in (ROOT / "addon").rglob("*.py"))


def test_pictures_are_there_and_small():
    found = re.findall(r"!\[[^]]*\]\(([^)]*)\)", README, flags=re.DOTALL)
    assert len(found) == 8
    for name in found:
        assert 10_000 < (ROOT / name).stat().st_size < 300_000, name

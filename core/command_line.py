"""The command line: `tackwright kit`, `check`, `materials` and `fittings`."""

from __future__ import annotations

import argparse
import contextlib
import io
import json
import os
import signal
import sys
import threading
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any, Final, get_args

from .files.job import Job, job_from_table, read_job
from .files.read_mesh import MESH_SUFFIXES, FileUnit, read_mesh
from .kit.kit import Kit
from .kit.report import (
    error_data,
    findings_data,
    findings_text,
    fitting_data,
    fittings_text,
    kit_data,
    kit_text,
    material_data,
    materials_text,
    refusal_text,
)
from .stock.fittings import CLEARANCE, FITTINGS
from .stock.materials import MATERIALS
from .terms.choices import Corner, MetalSide
from .terms.errors import KitThereError, TackwrightError
from .terms.plain import Plain, PlainMapping
from .terms.progress import Progress, progress_bar
from .terms.version import __version__

__all__ = ["main"]

DONE: Final = 0
REFUSED: Final = 2
CANNOT_BE_BUILT: Final = 3
INTERRUPTED: Final = 130                            # what shells give for Ctrl-C

_ABOUT: Final = """\
From a drawn envelope (a mesh of flat faces) to a kit of laser-cut plates that locate each other with tabs."""

_EXAMPLES: Final = """\
a first kit:
  tackwright check tank.obj                        what is there to say about it? nothing is written
  tackwright kit tank.obj --thickness 3mm          writes tank_kit/: a DXF for each plate, lists, a model

lengths: 3, 3mm, 0.125in, 1/8", or a gauge such as 11ga, looked up in the material's own table.
A plain number is in mm, or in inches with --units in.

exit codes: 0 done; 2 the input was refused, and standard error says what, where and what to do;
3 the kit has an error among its checks, and nothing was written unless --even-so was given."""

_KIT_EXAMPLES: Final = """\
examples:
  tackwright kit tank.obj
  tackwright kit tank.obj --material 6061 --thickness 11ga --out kits
  tackwright kit stand.stl --units in --material steel --thickness 3/16 --corner closed
  tackwright kit tank.toml --thickness 4 --replace       a job, with one setting changed

a job is a small TOML file, for choices that belong to single panels and joints, and for openings:
  mesh = "tank.obj"
  material = "5052"
  thickness = "3mm"
  [panels.lid]                      # named by the mesh file's groups or materials
  thickness = "4mm"
  [[joints]]
  between = ["lid", "front"]
  corner = "half-open"
  through = "lid"
  tabs = { count = 2 }
  [[openings]]
  name = "fill"
  at = [150, 100, 300]              # on or near the plate
  fitting = "NPT 1 1/2"             # or shape = "slot" and size = [60, 20]
  [[openings]]
  name = "hand hole"
  at = [300, 100, 300]
  size = 120
  purpose = "hand_hole"
  bolts = { count = 8, circle = 150, hole = 6.5 }
  [[perforations]]
  panel = "baffle"
  code = "R5T8"                     # as ISO 7806 writes it
  [[inner]]
  mesh = "baffles.obj"              # a mesh of inner plates only"""

_CHECK_EXAMPLES: Final = """\
examples:
  tackwright check tank.obj --material 6061 --corner closed
  tackwright check tank.toml --json

errors cannot be built as drawn; warnings can be built and will hurt; notes are worth knowing."""


def main(argv: Sequence[str] | None = None) -> int:
    """Run the command line; the exit code comes back. argv: the words after the program's name."""
    if isinstance(sys.stdout, io.TextIOWrapper):
        sys.stdout.reconfigure(errors="replace")    # a name that the terminal cannot show is no reason to stop
    try:
        given = _parser().parse_args(argv)
    except SystemExit as stop:                      # --help, --version, or words that argparse refused
        return int(stop.code or 0)
    try:
        code = int(given.run(given))
        sys.stdout.flush()
        return code
    except BrokenPipeError:                         # the reader has seen enough, as `| head` has
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return DONE
    except TackwrightError as error:
        return _refused(error, given)
    except KeyboardInterrupt:                       # the kit's folder is whole or not there: nothing to clear up
        print("Stopped.", file=sys.stderr)
        return INTERRUPTED


def _kit(given: argparse.Namespace) -> int:
    from .files.kit_folder import write_kit

    with _ending_in_order(), progress_bar() as progress:
        kit = _solve(_job(given), progress)
        broken = any(f.level == "error" for f in kit.checks)
        folder = None
        if given.even_so or not broken:
            folder = write_kit(kit, given.out, replace=given.replace, progress=progress)
    if given.json:
        _print_json({"folder": folder and str(folder), **kit_data(kit), "findings": findings_data(kit.checks)})
    elif folder is not None:
        print(f"{folder}\n{kit_text(kit)}")
    if not broken:
        return DONE
    errors = findings_text((f for f in kit.checks if f.level == "error"), kit.settings.dxf_units)
    written = f"{folder} was written even so." if folder else "Nothing was written; --even-so writes it all the same."
    print(f"{errors}\n{written}", file=sys.stderr)
    return CANNOT_BE_BUILT


@contextlib.contextmanager
def _ending_in_order() -> Iterator[None]:
    """Let a request to end (SIGTERM) unwind as Ctrl-C does, so that no half-written folder stays."""

    def end(*_: object) -> None:
        raise KeyboardInterrupt

    if threading.current_thread() is not threading.main_thread():
        yield                                       # only there may signals be handled
        return
    before = signal.signal(signal.SIGTERM, end)
    try:
        yield
    finally:
        signal.signal(signal.SIGTERM, before or signal.SIG_DFL)


def _check(given: argparse.Namespace) -> int:
    with progress_bar() as progress:
        kit = _solve(_job(given), progress)
    if given.json:
        _print_json({**kit_data(kit), "findings": findings_data(kit.checks)})
    else:
        print(f"{kit.name}: {kit_text(kit)}\n\n{findings_text(kit.checks, kit.settings.dxf_units)}")
    return CANNOT_BE_BUILT if any(f.level == "error" for f in kit.checks) else DONE


def _materials(given: argparse.Namespace) -> int:
    if given.json:
        _print_json([material_data(m) for m in MATERIALS])
    else:
        print(materials_text(MATERIALS))
    return DONE


def _fittings(given: argparse.Namespace) -> int:
    if given.json:
        _print_json([fitting_data(f) for f in FITTINGS])
    else:
        print(f"{fittings_text(FITTINGS)}\n\nThe hole is {CLEARANCE:g} mm more than the outside. Makers differ: "
              "measure the fitting in hand.")
    return DONE


def _solve(job: Job, progress: Progress) -> Kit:
    from .make_kit import make_kit

    progress("open", 0, 1)
    mesh, choices = read_mesh(job.mesh_path, unit=job.unit), job.choices
    if job.inner_paths:
        from .envelope.joined_meshes import join_inner

        mesh, choices = join_inner(mesh, [read_mesh(path, unit=job.unit) for path in job.inner_paths], choices)
    return make_kit(mesh, choices, name=job.name, progress=progress)


def _job(given: argparse.Namespace) -> Job:
    """The job that the words ask for: options are laid over the job file's keys."""
    keys = ("name", "units", "material", "thickness", "metal_side", "corner", "overlap", "root_gap", "fit_gap",
            "thickness_gap", "dxf_units", "file_names")
    chosen: Plain = {key: getattr(given, key) for key in keys if getattr(given, key) is not None}
    if given.tabs is not None:
        chosen["tabs"] = {"on": given.tabs == "on"}
    for key in ("etch", "note"):
        if (word := getattr(given, key)) is not None:
            chosen[key] = word == "on"
    if given.sealed:
        chosen["sealed"] = True
    for key in ("shop", "materials"):
        if (file := getattr(given, key)) is not None:
            chosen[key] = str(file.absolute())  # a job's own are beside it
    path: Path = given.envelope
    in_file = path.suffix.casefold() == ".toml"
    job = read_job(path, chosen) if in_file else job_from_table({"mesh": str(path), **chosen})
    given.said_in = job.choices.settings.dxf_units
    return job


def _refused(error: TackwrightError, given: argparse.Namespace) -> int:
    """What every error says here: in the units of the job, once that was read."""
    option = " Here that is --replace." if isinstance(error, KitThereError) else ""
    print(f"tackwright: {refusal_text(error, given.said_in)}{option}", file=sys.stderr)
    if given.json:
        _print_json({"error": error_data(error)})
    return REFUSED


def _print_json(data: PlainMapping | list[Any]) -> None:
    print(json.dumps(data, indent=2))       # in ASCII, whatever the terminal's encoding


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="tackwright", description=_ABOUT, epilog=_EXAMPLES, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--version", action="version", version=f"tackwright {__version__}")
    commands = parser.add_subparsers(title="commands", metavar="COMMAND", required=True)
    kit = _command(commands, "kit", _kit, "make the kit and write its folder", _KIT_EXAMPLES)
    _add_choices(kit)
    kit.add_argument("--out", type=Path, default=Path(), metavar="DIR",
                     help="where the kit's folder goes (default: here)")
    kit.add_argument("--replace", action="store_true", help="take the place of a kit that is already there")
    kit.add_argument("--even-so", action="store_true", help="write a kit that has errors among its checks")
    check = _command(commands, "check", _check, "list everything the checks find; write nothing", _CHECK_EXAMPLES)
    _add_choices(check)
    _command(commands, "materials", _materials, "list the metals, with the source of each value", "")
    _command(commands, "fittings", _fittings, "list the fittings and the holes they need, with the source of each", "")
    return parser


def _command(commands: Any, name: str, run: Any, about: str, examples: str) -> argparse.ArgumentParser:
    command: argparse.ArgumentParser = commands.add_parser(
        name, help=about, description=f"{about[0].upper()}{about[1:]}.", epilog=examples,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    command.set_defaults(run=run, said_in="mm")
    command.add_argument("--json", action="store_true", help="print JSON for scripts (lengths in mm)")
    return command


def _add_choices(command: argparse.ArgumentParser) -> None:
    """The envelope, and the choices for the whole kit, each None where it is not given."""
    suffixes = " ".join(f"*{s}" for s in MESH_SUFFIXES)
    command.add_argument("envelope", type=Path, metavar="ENVELOPE_OR_JOB",
                         help=f"a mesh ({suffixes}) or a job (*.toml)")
    command.add_argument("--name", help="what to call the kit (default: the mesh file's name)")
    command.add_argument("--shop", type=Path, metavar="FILE",
                         help="a shop's habits (*.toml): the job's own values and these options go before them")
    command.add_argument("--units", choices=get_args(FileUnit), help="what the mesh file's numbers are (default: mm)")
    metal = command.add_argument_group("metal")
    metal.add_argument("--material", metavar="M", help="'tackwright materials' lists them (default: 5052-H32)")
    metal.add_argument("--materials", type=Path, metavar="FILE",
                       help="metals of your own (*.csv with the columns name, family, density)")
    metal.add_argument("--thickness", metavar="T", help="of the plates (default: 3mm)")
    metal.add_argument("--metal-side", choices=get_args(MetalSide),
                       help="where the metal lies from the drawn faces (default: inside)")
    joints = command.add_argument_group("joints")
    joints.add_argument("--corner", choices=get_args(Corner),
                        help="how corners meet (default: open in aluminium, closed in steel)")
    joints.add_argument("--overlap", type=_number, metavar="X",
                        help="how much of the other's end a half-open corner covers, 0 to 1 (default: 0.5)")
    joints.add_argument("--root-gap", metavar="X", help="gap at the root of the weld (default: 0)")
    joints.add_argument("--fit-gap", metavar="X", help="clearance of a tab, a side (default: 0.1mm)")
    joints.add_argument("--thickness-gap", metavar="X",
                        help="by which slots are wider than the plate in them (default: as its sheet may be thicker)")
    joints.add_argument("--tabs", choices=("on", "off"), help="locating tabs (default: on)")
    command.add_argument("--sealed", action="store_true",
                         help="closed-off spaces are meant: warn of what heat does in them, and go on")
    drawings = command.add_argument_group("drawings")
    drawings.add_argument("--etch", choices=("on", "off"), help="etched marks that say what goes where (default: on)")
    drawings.add_argument("--note", choices=("on", "off"),
                          help="a text below each plate that says what it is (default: on)")
    drawings.add_argument("--file-names", metavar="PATTERN",
                          help="of the plates' DXF, with {mark}, {name}, {thickness}, {quantity}, {material} "
                          "(default: {mark}_{name})")
    drawings.add_argument("--dxf-units", choices=("mm", "in"), help="of the plates' DXF (default: mm)")


def _number(text: str) -> float:
    try:
        return float(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f"{text!r} is not a number from 0 to 1") from None


if __name__ == "__main__":
    sys.exit(main())

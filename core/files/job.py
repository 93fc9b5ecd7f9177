"""A job: which mesh, and what was chosen for it, in a small TOML file.

    mesh = "bow_tank.obj"
    material = "5052"
    thickness = "3mm"

    [panels.lid]
    thickness = "11ga"

    [[joints]]
    between = ["lid", "front"]
    corner = "half-open"

    [[openings]]
    name = "fill"
    at = [150, 100, 300]
    fitting = "NPT 1 1/2"
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from types import MappingProxyType
from typing import Any, Final, cast, get_args

from ..stock.materials import find_material
from ..stock.own_materials import read_materials_csv
from ..terms.choices import Choices, Corner, JointChoice, MetalSide, PanelChoice, Settings
from ..terms.errors import InputError, TackwrightError
from ..terms.metal import Material
from ..terms.process import Process
from ..welding.process_table import read_processes_csv
from .job_openings import read_fields, read_fittings, read_openings
from .job_table import Table
from .read_mesh import FileUnit
from .shops import read_corners, read_cutter, read_shop, read_tabs, read_torch, read_weld, shop_table

__all__ = ["Job", "job_from_table", "read_job"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """What to make a kit of. mesh_path: joined to the job file's folder; unit: of the mesh files' numbers;
    name: what to call the kit, None for the mesh's own name; inner_paths: of meshes whose faces are all inner
    plates of the same envelope; fittings_path: of the user's own fittings, which the choices hold read."""

    mesh_path: Path
    unit: FileUnit
    choices: Choices
    name: str | None = None
    inner_paths: tuple[Path, ...] = ()
    fittings_path: Path | None = None


def read_job(path: Path | str, overrides: Mapping[str, object] = MappingProxyType({})) -> Job:
    """The job in a TOML file. overrides: keys of the file's top level to set or replace, as the command line
    does; the key `tabs` is merged. Raises InputError with every fault found, each with its key's path.

    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     path = Path(folder, "tank.toml")
    ...     _ = path.write_text('mesh = "tank.obj"\\nmaterial = "5052"\\nthickness = "1/8 in"\\n')
    ...     job = read_job(path, {"root_gap": 1.0})
    >>> job.mesh_path.name, job.choices.settings.thickness, job.choices.settings.root_gap
    ('tank.obj', 3.175, 1.0)
    """
    path = Path(path)
    try:
        table = tomllib.loads(path.read_bytes().decode("utf-8-sig").replace("\r\n", "\n"))
    except OSError as error:
        raise InputError(f"{path} cannot be opened: {error.strerror or error}", do="Check the path") from error
    except UnicodeDecodeError as error:
        raise InputError(f"{path} is no UTF-8 text", where=f"byte {error.start}", do="Save it as UTF-8") from error
    except RecursionError as error:
        raise InputError(f"{path} is nested too deeply for a job", do="Write it anew") from error
    except tomllib.TOMLDecodeError as error:
        raise InputError(f"{path} is not TOML: {error}", do="Mend that place") from error
    try:
        return job_from_table(table | _merged(table, overrides), folder=path.parent)
    except InputError as error:
        raise error.led_by(f"{path}: ") from error


def job_from_table(table: Mapping[str, object], *, folder: Path = Path()) -> Job:
    """The job that a table of keys, as TOML gives them, describes. folder: what the files that it
    names are relative to."""
    faults: list[TackwrightError] = []
    top = Table(_with_shop(table, folder, faults), faults=faults)
    unit: FileUnit = cast(FileUnit, top.word("units", get_args(FileUnit)) or "mm")
    top.length_unit = "in" if unit == "in" else "mm"
    mesh = top.text("mesh")
    if mesh is None and "mesh" not in table:
        top.fault("mesh", "is missing", 'Name the mesh file, as in mesh = "tank.obj"')
    name = top.text("name")
    top.text("shop")  # read before all else
    own = _own_materials(top, folder)
    settings, material = _settings(top, own, folder)
    top.material = material
    panels = {panel.key: _panel(panel) for panel in top.tables("panels")}
    joints: dict[tuple[str, str], JointChoice] = {}
    for row in top.rows("joints"):
        pair = _between(row)
        choice = _joint(row, pair)
        if pair in joints:
            row.fault("between", f"names {pair[0]} and {pair[1]} a second time", "Keep one [[joints]] entry a pair")
        elif pair is not None:
            joints[pair] = choice
    openings, fields, fittings = read_openings(top), read_fields(top), read_fittings(top, folder)
    inner = [_inner(row) for row in top.rows("inner")]
    top.refuse_unknown()
    if faults:
        raise InputError.several(faults)
    return Job(
        mesh_path=folder / cast(str, mesh),
        unit=unit,
        name=name,
        choices=Choices(
            settings=settings, panels=MappingProxyType(panels), joints=MappingProxyType(joints), openings=openings,
            fields=fields, fittings=MappingProxyType(fittings), materials=own,
        ),
        inner_paths=tuple(folder / name for name in inner if name is not None),
        fittings_path=folder / named if (named := top.text("fittings")) is not None else None,
    )


_DEFAULTS: Final = Settings()


def _with_shop(table: Mapping[str, object], folder: Path, faults: list[TackwrightError]) -> Mapping[str, object]:
    """The table laid over the keys of the shop that it names."""
    shop = table.get("shop")
    if not isinstance(shop, str) or not shop.strip():
        return table
    try:
        habits = shop_table(read_shop(folder / shop))
    except InputError as error:
        faults.append(error.led_by("shop: "))
        return table
    if "corner" in table:
        habits.pop("overlap", None)     # it goes with the shop's own way of joining
    elif "overlap" in table:
        habits["corner"] = "half-open"  # what an overlap by itself says
    return habits | dict(table) | _merged(habits, table)


def _own_materials(top: Table, folder: Path) -> tuple[Material, ...]:
    """The user's own materials, from the CSV file that the job names."""
    name = top.text("materials")
    if name is None:
        return ()
    try:
        return read_materials_csv(folder / name)
    except InputError as error:
        top.faults.append(error.led_by("materials: "))
        return ()


def _own_processes(top: Table, folder: Path) -> tuple[Process, ...]:
    """The user's own processes, from the CSV file that the job names."""
    name = top.text("processes")
    if name is None:
        return ()
    try:
        return read_processes_csv(folder / name)
    except InputError as error:
        top.faults.append(error.led_by("processes: "))
        return ()


def _settings(top: Table, own: tuple[Material, ...], folder: Path) -> tuple[Settings, Material]:
    material = find_material(_DEFAULTS.material)
    if (wanted := top.text("material")) is not None:
        try:
            material = find_material(wanted, own)
        except InputError as error:
            top.faults.append(error)
    top.material = material
    given = {
        "thickness": top.length("thickness", above=0.0),
        "metal_side": top.word("metal_side", get_args(MetalSide)),
        "corner": top.word("corner", get_args(Corner)),
        "corners": read_corners(top),
        "overlap": top.number("overlap", least=0.0, most=1.0),
        "root_gap": top.length("root_gap", least=0.0),
        "fit_gap": top.length("fit_gap", least=0.0),
        "thickness_gap": top.length("thickness_gap", least=0.0),
        "cutter": read_cutter(top),
        "torch": read_torch(top),
        "reach": top.length("reach", least=0.0),
        "tab_short": top.length("tab_short", least=0.0),
        "jog": top.length("jog", least=0.0),
        "slot_relief": top.length("slot_relief", least=0.0),
        "limber": top.length("limber", least=0.0),
        "nose": top.length("nose", least=0.0),
        "hole_radius": top.length("hole_radius", least=0.0),
        "sealed": top.flag("sealed"),
        "keyed": top.flag("keyed"),
        "etch": top.flag("etch"),
        "note": top.flag("note"),
        "dxf_units": top.word("dxf_units", ("mm", "in")),
        "file_names": top.text("file_names"),
    }
    tabs = read_tabs(top.table("tabs"))
    weld = replace(read_weld(top.table("weld")), processes=_own_processes(top, folder))
    # Any: each value has the type of its setting, which made it
    chosen: dict[str, Any] = {key: value for key, value in given.items() if value is not None}
    return Settings(material=material.name, tabs=tabs, weld=weld, **chosen), material


def _panel(panel: Table) -> PanelChoice:
    chosen = PanelChoice(
        name=panel.text("name"),
        thickness=panel.length("thickness", above=0.0),
        metal_side=cast(MetalSide | None, panel.word("metal_side", get_args(MetalSide))),
        left_out=panel.flag("left_out") or False,
        inner=panel.flag("inner"),
        limber=panel.length("limber", least=0.0),
        mark=panel.flag("mark"),
        mark_at=panel.point("mark_at"),
    )
    panel.refuse_unknown()
    return chosen


def _inner(row: Table) -> str | None:
    """The mesh file of one [[inner]] entry."""
    mesh = row.needed("mesh", row.text, 'Name the mesh file, as in mesh = "baffles.obj"')
    row.refuse_unknown()
    return mesh


def _joint(row: Table, pair: tuple[str, str] | None) -> JointChoice:
    chosen = JointChoice(
        corner=cast(Corner | None, row.word("corner", get_args(Corner))),
        overlap=row.number("overlap", least=0.0, most=1.0),
        root_gap=row.length("root_gap", least=0.0),
        fit_gap=row.length("fit_gap", least=0.0),
        through=row.word("through", pair) if pair else row.text("through"),
        tab_on=row.word("tab_on", pair) if pair else row.text("tab_on"),
        tabs=read_tabs(row.table("tabs")),
    )
    row.refuse_unknown()
    return chosen


def _between(row: Table) -> tuple[str, str] | None:
    """The two panels a joint is between, sorted; None where they are not told."""
    names = row.texts("between")
    if names is None:
        if not row.has("between"):
            row.fault("between", "is missing", 'Name the two panels, as in between = ["top", "front"]')
        return None
    if len(names) != 2 or names[0] == names[1]:
        row.fault("between", f"is {names}", 'Name two different panels, as in between = ["top", "front"]')
        return None
    first, second = sorted(names)
    return first, second


def _merged(table: Mapping[str, object], overrides: Mapping[str, object]) -> dict[str, object]:
    """The overrides, a table among them laid over the file's table rather than put in its place."""
    return {
        key: {**old, **value} if isinstance(value, Mapping) and isinstance(old := table.get(key), Mapping) else value
        for key, value in overrides.items()
    }

"""What is kept in Blender's preferences: metals of one's own, and the shop of new envelopes."""

from __future__ import annotations

import gzip
import itertools
import json
import os
import subprocess
import sys
from types import SimpleNamespace

import pytest
from drawn_panels import Layout
from own_metals import OWN, ZINCED
from repo_paths import ROOT

COPPER, TITANIUM = OWN[:2]


@pytest.fixture
def mine(kept):
    """mine(*materials): put them among the user's own."""
    from tackwright.addon.scene.own_metals import write_own_material

    def put(*materials):
        for material in materials:
            write_own_material(kept.materials.add(), material)

    return put


def test_the_preferences_are_kept_under_the_name_that_blender_calls_the_extension(add_on, kept):
    from tackwright.addon.edit.preferences import TackwrightPreferences

    assert TackwrightPreferences.bl_idname == "tackwright" == add_on.context.preferences.addons[-1].module


@pytest.mark.parametrize("material", OWN, ids=lambda m: m.name)
def test_a_metal_on_a_row_is_the_one_that_was_put_there(kept, mine, material):
    from tackwright.addon.scene.own_metals import users_metals

    mine(material)
    assert users_metals() == (material,)


def test_rows_that_are_no_metal_yet_are_left_out(kept, mine):
    from tackwright.addon.scene.own_metals import users_metals

    mine(COPPER, COPPER)
    kept.materials.add().name = "   "
    assert [m.name for m in users_metals()] == ["copper C110"]


def test_without_preferences_there_are_the_built_in_metals(blender, draw_box):
    from tackwright.addon.scene.metals import known_metals
    from tackwright.core.stock.materials import MATERIALS

    assert known_metals() == {m.name: m for m in MATERIALS}
    with pytest.raises(RuntimeError, match="Enable the extension"):
        blender.ops.tackwright.add_material()


def test_an_own_metal_can_be_chosen_and_decides_mass_and_corners(blender, kept, mine, draw_box, tmp_path):
    mine(TITANIUM)
    item = draw_box(0.3, 0.2, 0.1)
    item.tackwright.sealed, item.tackwright.material = True, TITANIUM.name
    blender.ops.tackwright.export_kit(directory=str(tmp_path))
    kit = json.loads((tmp_path / "tank_kit" / "kit.json").read_text(encoding="utf-8"))
    assert {p["material"] for p in kit["plates"]} == {TITANIUM.name}
    assert {j["overlap"] for j in kit["joints"]} == {1.0}  # butted, as its row says
    volume = 300 * 200 * 100 - 294 * 194 * 94
    assert sum(p["mass"] * p["quantity"] for p in kit["plates"]) == pytest.approx(volume * 4506e-9, rel=0.02)


def test_an_own_metal_of_a_built_in_name_takes_its_place(kept, mine):
    from dataclasses import replace

    from tackwright.addon.scene.metals import known_metals, metal_items

    mine(replace(COPPER, name="steel A36"))
    assert known_metals()["steel A36"].density == 8960.0
    assert [i[0] for i in metal_items(None, None)].count("steel A36") == 1


def alike_in_menus():
    """Two metals of one's own whose names have the same number."""
    from dataclasses import replace

    from tackwright.addon.scene.metals import metal_number

    seen = {}
    for name in (f"own {n}" for n in itertools.count()):
        twin = seen.setdefault(metal_number(name), name)
        if twin != name:
            return replace(COPPER, name=twin), replace(COPPER, name=name)


def test_metals_whose_numbers_meet_are_chosen_apart_and_stay_when_one_of_them_goes(
    blender, kept, mine, draw_box, tmp_path
):
    from tackwright.addon.scene.metals import metal_items, metal_number

    twins = alike_in_menus()
    mine(*twins)
    items = [draw_box(1, 1, 1, name=f"tank {n}") for n in range(2)]
    for item, twin in zip(items, twins, strict=True):
        item.tackwright.material = twin.name
    numbers = {i[0]: i[3] for i in metal_items(items[0].tackwright, None)}
    assert metal_number(twins[0].name) == metal_number(twins[1].name)
    assert numbers[twins[0].name] != numbers[twins[1].name]
    assert [item.tackwright.material for item in items] == [twin.name for twin in twins]
    path = str(tmp_path / "a.blend")
    blender.ops.wm.save_as_mainfile(filepath=path)
    kept.materials.remove(0)
    blender.ops.wm.open_mainfile(filepath=path)
    assert [blender.data.objects[f"tank {n}"].tackwright.material for n in range(2)] == [twin.name for twin in twins]


OLDER = """
import sys, bpy, struct, zlib
from bpy.props import EnumProperty, PointerProperty, StringProperty

path, clicked, *names = sys.argv[1:]

def number(name):
    whole = zlib.crc32(name.encode()) & 0x7FFFFFFF
    return int(struct.unpack("f", struct.pack("f", whole))[0]) if clicked == "clicked" else whole

class TackwrightSettings(bpy.types.PropertyGroup):
    material: EnumProperty(items=[(n, n, "", number(n)) for n in names])
    material_name: StringProperty()
    material_row: StringProperty()

bpy.utils.register_class(TackwrightSettings)
bpy.types.Object.tackwright = PointerProperty(type=TackwrightSettings)
bpy.ops.wm.read_homefile(use_empty=True, use_factory_startup=True)
for name in names:
    mesh = bpy.data.meshes.new(name)
    mesh.from_pydata([(0, 0, 0), (1, 0, 0), (0, 1, 0)], [], [(0, 1, 2)])
    item = bpy.data.objects.new(name, mesh)
    bpy.context.scene.collection.objects.link(item)
    item.tackwright.material = name
    if clicked == "clicked":                # the click was not understood: the name stayed that of the metal before
        item.tackwright.material_name, item.tackwright.material_row = "unobtainium", "name,family,density"
bpy.ops.wm.save_as_mainfile(filepath=path)
"""


def older_file(path, clicked, *names):
    """Written by a process that knows only the enum as it was: static items, numbers of 31 bits from CRC-32. clicked:
    the metals were chosen with the mouse, which rounded the numbers to single precision."""
    argv = [sys.executable, "-c", OLDER, str(path), "clicked" if clicked else "", *names]
    done = subprocess.run(argv, capture_output=True, text=True, check=False)
    assert path.exists(), done.stderr
    return str(path)


@pytest.mark.parametrize("clicked", [False, True])
def test_a_file_with_the_numbers_of_before_opens_with_its_metals_and_keeps_their_names(blender, tmp_path, clicked):
    from tackwright.addon.scene.metals import metals_for
    from tackwright.addon.scene.migrate import file_note
    from tackwright.core.stock.materials import MATERIALS

    names = [m.name for m in MATERIALS]
    blender.ops.wm.open_mainfile(filepath=older_file(tmp_path / "older.blend", clicked, *names))
    assert {item.name: item.tackwright.material for item in blender.data.objects} == {name: name for name in names}
    assert {item.name: item.tackwright.material_name for item in blender.data.objects} == {name: name for name in names}
    assert {item.tackwright.material_row for item in blender.data.objects} == {""}
    assert ("older Tackwright" in file_note()) == clicked       # no metal was seen there
    assert [metals_for(item.tackwright) for item in blender.data.objects] == [()] * len(names)
    chosen = blender.data.objects["steel S235JR"].tackwright
    chosen.material = "stainless 316"
    again = str(tmp_path / "again.blend")
    blender.ops.wm.save_as_mainfile(filepath=again)
    blender.ops.wm.open_mainfile(filepath=again)
    assert file_note() == ""
    assert {item.name: item.tackwright.material for item in blender.data.objects} == {
        name: "stainless 316" if name == "steel S235JR" else name for name in names}


@pytest.mark.parametrize("link", [False, True])
def test_an_object_taken_from_a_file_of_before_shows_its_metal_at_once(blender, tmp_path, link):
    path = older_file(tmp_path / "older.blend", False, "steel S235JR", "stainless 304")
    with blender.data.libraries.load(path, link=link) as (_, wanted):
        wanted.objects = ["steel S235JR", "stainless 304"]
    first, second = wanted.objects
    assert [first.tackwright.material, second.tackwright.material] == ["steel S235JR", "stainless 304"]
    if not link:
        first.tackwright.material = "steel A36"         # what is chosen counts, not the number beside it
        blender.context.scene.collection.objects.link(first)
        blender.context.scene.collection.objects.link(second)
        again = str(tmp_path / "again.blend")
        blender.ops.wm.save_as_mainfile(filepath=again)
        blender.ops.wm.open_mainfile(filepath=again)
        found = {item.name: item.tackwright.material for item in blender.data.objects}
        assert found == {"steel S235JR": "steel A36", "stainless 304": "stainless 304"}


def test_a_number_of_before_that_is_nobodys_is_a_missing_metal_and_no_other(blender, kept, mine, tmp_path):
    from tackwright.addon.scene.metals import missing_metal

    path = older_file(tmp_path / "older.blend", True, "unheard of")
    blender.ops.wm.open_mainfile(filepath=path)
    settings = blender.data.objects["unheard of"].tackwright
    assert missing_metal(settings) == settings.material != ""
    assert settings.material not in {"unobtainium", "aluminium 5052-H32"}


def test_a_metal_that_the_reader_lacks_is_named_and_can_be_had(blender, kept, mine, draw_box, drawn, tmp_path):
    mine(COPPER)
    item = draw_box(0.3, 0.2, 0.1)
    item.tackwright.sealed, item.tackwright.material = True, COPPER.name
    path = str(tmp_path / "a.blend")
    blender.ops.wm.save_as_mainfile(filepath=path)
    kept.materials.clear()
    blender.ops.wm.open_mainfile(filepath=path)
    again = blender.data.objects["tank"]
    blender.context.view_layer.objects.active = again
    assert again.tackwright.material == COPPER.name
    assert drawn("metal")[:3] == ["", "'copper C110' is missing here", "Keep Material"]
    said = "The material 'copper C110' is not among yours. Keep Material in the Metal panel"
    with pytest.raises(RuntimeError, match=said):
        blender.ops.tackwright.make_plates()
    assert [f.rule for f in again.tackwright.findings] == ["refused"]
    blender.ops.tackwright.keep_material()
    assert [row.name for row in kept.materials] == [COPPER.name]
    assert blender.ops.tackwright.make_plates() == {"FINISHED"}
    assert "missing" not in " ".join(drawn("metal"))
    with pytest.raises(RuntimeError, match="known here already"):
        blender.ops.tackwright.keep_material()


def test_a_missing_metal_without_its_row_says_whom_to_ask_and_another_can_be_chosen(blender, kept, draw_box, drawn):
    item = draw_box(0.3, 0.2, 0.1)
    item.tackwright.material_name = "unobtainium"
    item.tackwright.material = "unobtainium"
    with pytest.raises(RuntimeError, match="Ask who drew this for the list"):
        blender.ops.tackwright.make_plates()
    with pytest.raises(RuntimeError, match="The file has only its name"):
        blender.ops.tackwright.keep_material()
    item.tackwright.material = "steel A36"
    assert (item.tackwright.material_name, item.tackwright.material_row) == ("steel A36", "")
    assert "missing" not in " ".join(drawn("metal"))
    with pytest.raises(TypeError):
        item.tackwright.material = "unobtainium"


def test_rows_are_added_and_removed(blender, kept):
    for _ in range(2):
        blender.ops.tackwright.add_material()
    assert [row.name for row in kept.materials] == ["New metal", "New metal 2"]
    assert kept.active_material == 1
    assert [blender.ops.tackwright.remove_material() for _ in range(2)] == [{"FINISHED"}] * 2
    with pytest.raises(RuntimeError, match="no metal of your own"):
        blender.ops.tackwright.remove_material()
    with pytest.raises(RuntimeError, match="no metal of your own"):
        blender.ops.tackwright.export_materials(filepath="x.csv")


def test_a_list_is_shared_as_a_file(blender, kept, mine, tmp_path):
    from tackwright.addon.scene.own_metals import users_metals

    mine(*OWN)
    path = tmp_path / "ours"
    blender.ops.tackwright.export_materials(filepath=str(path))
    kept.materials.clear()
    blender.ops.tackwright.import_materials(filepath=str(path.with_suffix(".csv")))
    assert users_metals() == OWN
    kept.materials[0].density = 8000.0
    with pytest.raises(RuntimeError, match="another 'copper C110'. Replace it"):
        blender.ops.tackwright.import_materials(filepath=str(path.with_suffix(".csv")))
    assert kept.materials[0].density == 8000.0
    blender.ops.tackwright.import_materials(filepath=str(path.with_suffix(".csv")), replace=True)
    assert users_metals() == OWN


def test_a_bad_list_is_named_and_adds_nothing(blender, kept, tmp_path):
    bad = tmp_path / "bad.csv"
    bad.write_text("name,family,density\ngood,steel,7850\nb,steel,7.85\n")
    with pytest.raises(RuntimeError, match=r"bad\.csv, line 3: the density of 'b' is 7.85 kg/m3"):
        blender.ops.tackwright.import_materials(filepath=str(bad))
    assert len(kept.materials) == 0


def test_the_metals_of_a_job_come_with_it(blender, kept, tmp_path):
    (tmp_path / "own.csv").write_text("name,family,density\ncopper C110,other,8960\n")
    (tmp_path / "t.obj").write_text("v 0 0 0\nv 100 0 0\nv 100 100 0\nv 0 100 0\nf 1 2 3 4\n")
    (tmp_path / "job.toml").write_text('mesh = "t.obj"\nmaterials = "own.csv"\nmaterial = "copper"\n')
    blender.ops.tackwright.open_job(filepath=str(tmp_path / "job.toml"))
    envelope = blender.context.object
    assert envelope.tackwright.material == "copper C110"
    blender.ops.tackwright.keep_material()
    assert kept.materials[0].density == 8960.0


def test_a_gauge_number_sets_the_thickness_in_the_metals_own_table(blender, kept, mine, draw_box):
    mine(COPPER, ZINCED)
    item = draw_box(0.3, 0.2, 0.1)
    for material, inches in (("steel A36", 0.0598), ("aluminium 6061-T6", 0.0508), (ZINCED.name, 0.0635)):
        item.tackwright.material = material
        blender.ops.tackwright.set_gauge(gauge=16)
        assert item.tackwright.thickness_mm == pytest.approx(inches * 25.4)  # published tables, see core/stock/data
    with pytest.raises(RuntimeError, match="99 ga is not in the galvanized gauge table"):
        blender.ops.tackwright.set_gauge(gauge=99)
    item.tackwright.material = COPPER.name
    with pytest.raises(RuntimeError, match="no gauge numbers"):
        blender.ops.tackwright.set_gauge(gauge=16)


def page(blender, kept):
    """What the page in the preferences shows."""
    from tackwright.addon.edit.preferences import TackwrightPreferences

    own = {name: getattr(TackwrightPreferences, name).__get__(kept) for name in ("_draw_shops", "_draw_materials")}
    TackwrightPreferences.draw(SimpleNamespace(layout=Layout(blender, notes := []), **own), blender.context)
    return notes


def test_the_page_shows_shops_and_metals_and_what_is_wrong(blender, kept, mine, tmp_path):
    notes = page(blender, kept)
    assert notes[:2] == ["Shops", "Shop of New Envelopes"] and "Plasma Table" in notes
    assert notes[-2:] == ["Import Materials...", "Export Materials..."]
    folder = tmp_path / "user" / "shops"
    folder.mkdir(parents=True)
    (folder / "bad.toml").write_text("fitgap = 1")
    mine(COPPER)
    kept.materials.add()
    kept.new_shop, kept.active_material = "gone", 1
    notes = page(blender, kept)
    assert "There is no shop 'gone'" in notes
    assert any("bad.toml: fitgap is no key of a shop" in note for note in notes)
    assert "The material has no name. Give it one" in notes and "Family" in notes


def test_a_new_envelope_is_given_the_habits_of_the_chosen_shop_once(blender, kept, draw_box):
    kept.new_shop = "Plasma Table"
    item = draw_box(0.3, 0.2, 0.1)
    item.tackwright.sealed, item.tackwright.material = True, "steel A36"
    assert item.tackwright.shop.name == ""                     # the Shop panel looks: that makes nothing its own
    blender.ops.tackwright.make_plates()
    assert (item.tackwright.shop.name, item.tackwright.fit_gap_mm) == ("Plasma Table", pytest.approx(0.8))
    kept.new_shop = "Laser"
    blender.ops.tackwright.make_plates()
    assert item.tackwright.shop.name == "Plasma Table"


def test_an_envelope_with_settings_of_its_own_keeps_them(blender, kept, draw_box):
    kept.new_shop = "Plasma Table"
    item = draw_box(0.3, 0.2, 0.1)
    item.tackwright.sealed, item.tackwright.fit_gap_mm = True, 0.2
    blender.ops.tackwright.make_plates()
    assert (item.tackwright.shop.name, item.tackwright.fit_gap_mm) == ("", pytest.approx(0.2))
    old = draw_box(0.3, 0.2, 0.1, "old")
    old.tackwright.sealed, old.tackwright.summary = True, "6 plates"  # made before
    blender.ops.tackwright.make_plates()
    assert old.tackwright.shop.name == ""


def test_a_shop_that_is_gone_is_said_and_nothing_is_changed(blender, kept, draw_box, capfd):
    kept.new_shop = "gone"
    item = draw_box(0.3, 0.2, 0.1)
    item.tackwright.sealed = True
    assert blender.ops.tackwright.make_plates() == {"FINISHED"}
    assert item.tackwright.shop.name == ""


KEPT = """
import sys, bpy, addon_utils
if sys.argv[1] == "read":
    bpy.ops.wm.read_userpref()
addon_utils.enable("tackwright", default_set=True)
kept = bpy.context.preferences.addons["tackwright"].preferences
if sys.argv[1] == "write":
    row = kept.materials.add()
    row.name, row.density, kept.new_shop = "copper C110", 8960.0, "Plasma Table"
    bpy.ops.wm.save_userpref()
else:
    print("kept:", [(row.name, row.density) for row in kept.materials], kept.new_shop)
"""


def test_preferences_are_kept_from_one_session_to_the_next(tmp_path):
    pytest.importorskip("bpy", reason="bpy is not installed: the add-on is not tested")
    env = os.environ | {"BLENDER_USER_RESOURCES": str(tmp_path)}
    for step in ("write", "read"):
        done = subprocess.run(
            [sys.executable, "-c", KEPT, step], capture_output=True, text=True, check=False, env=env)
    assert "kept: [('copper C110', 8960.0)] Plasma Table" in done.stdout, done.stdout + done.stderr


READ = """
import json, bpy, addon_utils
bpy.ops.wm.read_userpref()
addon_utils.enable("tackwright", default_set=True)
from tackwright.addon.scene.own_metals import users_metals
kept = bpy.context.preferences.addons["tackwright"].preferences
print("KEPT", json.dumps([kept.new_shop, [[row.name for row in kept.materials], len(users_metals())]]))
print("METALS", users_metals())
"""


def test_preferences_of_the_version_before_open_with_everything_in_place(tmp_path):
    """Saved by the version in which the modules lay in two flat folders: the same three metals, field by field."""
    pytest.importorskip("bpy", reason="bpy is not installed: the add-on is not tested")
    kept = gzip.decompress((ROOT / "tests" / "data" / "preferences_before_rooms.blend.gz").read_bytes())
    (tmp_path / "config").mkdir()
    (tmp_path / "config" / "userpref.blend").write_bytes(kept)
    done = subprocess.run([sys.executable, "-c", READ], capture_output=True, text=True, check=False,
                          env=os.environ | {"BLENDER_USER_RESOURCES": str(tmp_path)})
    said = dict(line.split(" ", 1) for line in done.stdout.splitlines() if line.startswith(("KEPT", "METALS")))
    assert said, done.stdout + done.stderr
    assert json.loads(said["KEPT"]) == ["Plasma Table", [[metal.name for metal in OWN], len(OWN)]]
    assert said["METALS"] in {repr(OWN), repr(list(OWN))}

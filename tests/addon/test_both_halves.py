"""A remedy written into the scene and gathered again comes to the same choices as the core's `apply`: for every rule
that carries one, and every kind of change."""

from dataclasses import replace

import numpy as np
import pytest
from baffled import with_inner
from drawn_meshes import box, faces_of
from remedy_cases import CASES, QUIET

from tackwright.core.make_kit import make_kit
from tackwright.core.terms.errors import InputError
from tackwright.core.terms.remedies import (
    AddedOpening,
    ChangedField,
    ChangedJoints,
    ChangedOpening,
    ChangedSetting,
    apply,
)

ALL = [(rule, mesh, choices) for rule, cases in CASES.items() for mesh, choices, _ in cases]


def put_into(blender, mesh, choices):
    """An envelope of the mesh with these choices, written as the editor keeps them."""
    from tackwright.addon.gather.job_scene import _add_fields, _add_openings
    from tackwright.addon.gather.job_settings import write_settings
    from tackwright.addon.scene.edge_choices import write_edge_choice
    from tackwright.addon.scene.face_choices import write_face_choice
    from tackwright.addon.scene.metals import give_metal
    from tackwright.core.envelope.choice_places import find_places
    from tackwright.core.stock.materials import material_of

    drawn = blender.data.meshes.new("tank")
    drawn.from_pydata((mesh.points / 1000.0).tolist(), [], faces_of(mesh))
    item = blender.data.objects.new("tank", drawn)
    blender.context.scene.collection.objects.link(item)
    blender.context.view_layer.objects.active = item
    metal = material_of(choices)
    give_metal(item.tackwright, metal)
    assert write_settings(item.tackwright, replace(choices.settings, material=metal.name)) == []
    for face, choice in choices.faces.items():
        write_face_choice(item, [face], choice)
    for edge, choice in choices.edges.items():
        write_edge_choice(item, [edge], choice)
    assert _add_fields(item, mesh, find_places(mesh, choices), choices.fields) == []
    assert _add_openings(blender.context, item, choices) == []
    blender.context.view_layer.update()
    return item


def gathered(blender, item):
    from tackwright.addon.gather.gather import read_drawing

    return read_drawing(blender.context, item, all_faces=True)


def plain(choices):
    """What is compared: lengths to a thousandth of a millimetre, names without regard to capitals."""
    def opening(one):
        return (one.name.casefold(), one.purpose, one.shape, one.fitting, one.bolts, one.all_along,
                None if one.size is None else tuple(round(s, 3) for s in one.size), one.axis is None,
                tuple(np.round(one.at, 2) + 0.0))

    return (
        choices.settings, dict(choices.faces.items()), dict(choices.edges.items()),
        sorted(map(opening, choices.openings), key=str), choices.fields)


@pytest.mark.parametrize(("rule", "mesh", "choices"), ALL, ids=[f"{one[0]}-{i}" for i, one in enumerate(ALL)])
def test_the_editor_writes_what_the_core_applies(blender, rule, mesh, choices):
    from tackwright.addon.findings.kept_remedies import placed_changes
    from tackwright.addon.findings.remedy_writers import write_change
    from tackwright.addon.findings.shown_findings import keep_findings

    item = put_into(blender, mesh, choices)
    before = gathered(blender, item)
    kit = make_kit(before.mesh, before.choices)
    keep_findings(item, kit, before.parts)
    remedies = [finding.remedy for finding in kit.checks if finding.rule == rule and finding.remedy is not None]
    kept = [one for one in item.tackwright.findings if one.rule == rule and one.remedy]
    assert remedies and len(kept) == len(remedies)
    wanted = apply(before.choices, remedies[0])
    assert plain(wanted) != plain(before.choices)
    for changed, change in placed_changes(kept[0]):
        write_change(blender.context, item, changed, change)
    blender.context.view_layer.update()
    after = gathered(blender, item)
    assert plain(after.choices) == plain(wanted)
    assert np.array_equal(after.mesh.points, before.mesh.points)
    cured = make_kit(after.mesh, after.choices)
    assert sum(f.rule == rule for f in cured.checks) < sum(f.rule == rule for f in kit.checks)


def test_every_kind_of_change_of_choices_is_tried():
    kinds = set()
    for rule, cases in CASES.items():
        for mesh, choices, _ in cases:
            kinds |= {type(change) for finding in make_kit(mesh, choices).checks
                      if finding.rule == rule and finding.remedy for change in finding.remedy.changes}
    assert kinds == {AddedOpening, ChangedField, ChangedJoints, ChangedOpening, ChangedSetting}


def test_a_panel_that_is_left_out_is_left_out_by_both(blender):
    """A strip of 5 mm along a wall, which a root gap of 6 mm eats: the refusal's remedy names its face."""
    from tackwright.addon.findings.kept_remedies import placed_changes
    from tackwright.addon.findings.remedy_writers import write_change
    from tackwright.addon.findings.shown_findings import keep_refusal

    strip = [(2, 0, 75), (8, 0, 75), (8, 200, 75), (2, 200, 75)]
    item = put_into(blender, *with_inner(box(300, 200, 150), [strip], replace(QUIET, root_gap=6.0)))
    before = gathered(blender, item)
    with pytest.raises(InputError) as refused:
        make_kit(before.mesh, before.choices)
    keep_refusal(item, refused.value, before.parts)
    (kept,) = item.tackwright.findings
    wanted = apply(before.choices, refused.value.remedy)
    assert wanted.faces != before.choices.faces
    for changed, change in placed_changes(kept):
        write_change(blender.context, item, changed, change)
    after = gathered(blender, item)
    assert {face: choice.left_out for face, choice in after.choices.faces.items()} == {
        face: choice.left_out for face, choice in wanted.faces.items()}
    make_kit(after.mesh, after.choices)

"""The whole way: from a mesh and choices to a kit. Reads like the road it goes: envelope, joints, plates,
assembly, fitting out, marks, kit."""

from __future__ import annotations

from .envelope.mesh import Mesh
from .envelope.read_envelope import read_envelope
from .fit_out import fit_out, inspect_interior
from .keying import keyed_draft
from .kit.assemble import assemble
from .kit.draft import Draft, kit_plates
from .kit.kit import Kit
from .kit.marks import mark_plates
from .plates.solve import settle_plates, solve
from .stock.materials import material_of
from .terms.choices import Choices
from .terms.memo import Memo, Remember, afresh
from .terms.moved import leaving, moved_choices
from .terms.progress import Progress

__all__ = ["complete_kit", "draft_kit", "make_kit"]


def make_kit(mesh: Mesh, choices: Choices, *, name: str | None = None, progress: Progress | None = None) -> Kit:
    """The kit of a drawn envelope, checked as solids.

    Raises InputError when nothing can be solved; what can be solved but not built is an `error` among the
    kit's checks. progress: called with a stage's name, how much is done, and of how much.

    >>> corner = Mesh.of([(0, 0, 0), (90, 0, 0), (90, 60, 0), (0, 60, 0), (0, 0, 40), (90, 0, 40)],
    ...                  [(0, 3, 2, 1), (0, 1, 5, 4)], name="bracket")
    >>> kit = make_kit(corner, Choices())
    >>> [plate.name for plate in kit.plates], [joint.angle for joint in kit.joints if joint.kind == "open_corner"]
    (['bottom', 'front'], [90.0])
    """
    return complete_kit(draft_kit(mesh, choices, name=name, progress=progress), progress=progress)


def draft_kit(
    mesh: Mesh, choices: Choices, *, name: str | None = None, progress: Progress | None = None, memo: Memo | None = None
) -> Draft:
    """The first part of the road, as far as every plate and its place are known. As `make_kit`. memo: brought along
    from one draft to the next, to do again only what changed."""
    remember: Remember = afresh
    if memo is not None:
        memo.begin()
        remember = memo
    return keyed_draft(choices, lambda chosen: _draft(mesh, chosen, name, progress or _silent, remember))


def _draft(mesh: Mesh, choices: Choices, name: str | None, say: Progress, remember: Remember) -> Draft:
    say("read", 0, 1)
    envelope = read_envelope(mesh, choices)
    about_middle = moved_choices(choices, -envelope.origin)
    with leaving(envelope.origin):
        say("solve", 0, 1)
        solved = solve(envelope, choices)
        say("check", 0, 1)
        solved, assembly = settle_plates(solved, lambda done, total: say("check", done, total))
        say("fit out", 0, 1)
        interior = fit_out(
            solved, assembly, about_middle, lambda done, total: say("fit out", done, total), remember)
        say("mark", 0, 1)
        plates = interior.assembly.plates
        marked = mark_plates(
            plates, [(plate.metal_side, plate.role) for plate in plates], interior.assembly.solids, remember)
    return Draft(
        name=name or mesh.name, choices=choices, solved=solved, interior=interior, marked=marked,
        plates=kit_plates(plates, marked, material_of(choices)))


def complete_kit(draft: Draft, *, progress: Progress | None = None) -> Kit:
    """The rest of it: the spaces between the plates, joints, figures and findings."""
    say = progress or _silent
    say("inspect", 0, 1)
    found = inspect_interior(
        draft.solved, draft.interior, draft.choices, lambda done, total: say("inspect", done, total))
    say("assemble", 0, 1)
    kit = assemble(draft, found)
    say("done", 1, 1)
    return kit


def _silent(stage: str, done: int, total: int) -> None:
    pass

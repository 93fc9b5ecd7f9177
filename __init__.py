"""Tackwright: from a drawn envelope to a kit of plates.

The road, for Python:

>>> from pathlib import Path
>>> import tackwright
>>> corners = [(0, 0, 0), (300, 0, 0), (300, 200, 0), (0, 200, 0), (0, 0, 100), (300, 0, 100), (300, 200, 100),
...            (0, 200, 100)]
>>> faces = [(3, 2, 1, 0), (4, 5, 6, 7), (0, 1, 5, 4), (1, 2, 6, 5), (2, 3, 7, 6), (3, 0, 4, 7)]
>>> mesh = tackwright.Mesh.of(corners, faces, name="box")
>>> kit = tackwright.make_kit(mesh, tackwright.Choices(settings=tackwright.Settings(thickness=3.0)))
>>> [plate.mark for plate in kit.plates], len(kit.joints)
(['P01', 'P02', 'P03'], 12)

A mesh may also be read (`read_mesh`), or a job file with everything in it (`read_job`); `write_kit` writes the folder.
Inside Blender the same package is an extension: the host calls `register`. Importing this loads neither.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from .core.envelope.mesh import Mesh
    from .core.files.job import read_job
    from .core.files.kit_folder import write_kit
    from .core.files.read_mesh import read_mesh
    from .core.kit.kit import Kit
    from .core.kit.report import kit_text
    from .core.make_kit import make_kit
    from .core.stock.materials import find_material
    from .core.terms.choices import Choices, JointChoice, MarkedOpening, PanelChoice, Settings
    from .core.terms.errors import TackwrightError
    from .core.terms.findings import Finding

__all__ = [
    "Choices", "Finding", "JointChoice", "Kit", "MarkedOpening", "Mesh", "PanelChoice", "Settings", "TackwrightError",
    "find_material", "kit_text", "make_kit", "read_job", "read_mesh", "write_kit",
]  # fmt: skip

_ROOMS = {
    "Choices": "terms.choices", "Finding": "terms.findings", "JointChoice": "terms.choices", "Kit": "kit.kit",
    "MarkedOpening": "terms.choices", "Mesh": "envelope.mesh", "PanelChoice": "terms.choices",
    "Settings": "terms.choices", "TackwrightError": "terms.errors", "find_material": "stock.materials",
    "kit_text": "kit.report", "make_kit": "make_kit", "read_job": "files.job", "read_mesh": "files.read_mesh",
    "write_kit": "files.kit_folder",
}  # fmt: skip
"""Where each name of the door lives: fetched when it is first used, so that the host starts without the libraries."""


def __getattr__(name: str) -> Any:                      # Any: what a module holds
    if name not in _ROOMS:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    found = getattr(import_module(f".core.{_ROOMS[name]}", __name__), name)
    globals()[name] = found
    return found


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})


def register() -> None:
    from . import addon

    addon.register()


def unregister() -> None:
    from . import addon

    addon.unregister()

"""An export under way: the kit is solved and then written off the main thread, from data that no longer hangs on the
editor. There is one at a time. Nothing here knows of timers: whoever waits calls `step` now and then.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final, Literal

from ...core.kit.kit import Kit
from ...core.terms.errors import TackwrightError
from ..gather.gather import GatheredDrawing
from ..host.background import StoppedError, Work

__all__ = ["Export", "State", "begin", "busy", "stop", "under_way"]

State = Literal["working", "solved", "written", "refused", "stopped"]

TURN: Final = 0.0005
"""s that the work keeps the interpreter before the window may have it. A redraw of the sidebar asks for it about a
hundred times, once for every function of every panel: at Python's own 5 ms that is half a second."""

SPANS: Final = {
    "read": (0.00, 0.02), "solve": (0.02, 0.03), "check": (0.03, 0.08), "fit out": (0.08, 0.60), "mark": (0.60, 0.63),
    "inspect": (0.63, 0.85), "assemble": (0.85, 0.90), "done": (0.90, 0.90), "write": (0.90, 1.00),
}  # fmt: skip
"""Which share of the whole each stage is: where its time goes in large kits, from the project's own bench."""
SAID: Final = {
    "read": "Reading the drawing", "solve": "Solving joints", "check": "Checking plates", "fit out": "Fitting out",
    "mark": "Marking plates", "inspect": "Inspecting spaces", "assemble": "Putting together", "done": "Solved",
    "write": "Writing files",
}  # fmt: skip


@dataclass(slots=True, kw_only=True, eq=False)
class Export:
    """One export. uid: of the envelope; parent: the folder that gets the kit's; chosen: as the user gave it. replace:
    an older kit gives way. even_so: also with errors. work: under way; kit: once solved; written: its folder, once it
    is there; error: why it was refused. farthest: the
    largest share that was done: some stages come again."""

    uid: int
    drawing: GatheredDrawing
    name: str
    parent: Path
    chosen: str
    replace: bool
    even_so: bool
    kit: Kit | None = None
    work: Work[Any] | None = None
    written: Path | None = None
    error: TackwrightError | None = None
    cancelled: bool = False
    farthest: float = 0.0

    @property
    def folder(self) -> Path:
        from ...core.files.safe_names import safe_name

        return self.parent / f"{safe_name(self.name)}_kit"

    @property
    def refused(self) -> bool:
        """Whether the kit has errors that nobody wants it written with."""
        return self.kit is not None and not self.even_so and any(f.level == "error" for f in self.kit.checks)

    @property
    def must_ask(self) -> bool:
        """Whether something is where the kit goes, and nobody said that it may give way."""
        return not self.replace and self.folder.exists()

    @property
    def share(self) -> float:
        """How much is done, 0 to 1."""
        if self.work is not None:
            first, last = SPANS.get(self.work.stage, (0.0, 0.0))
            self.farthest = max(self.farthest, first + (last - first) * min(1.0, self.work.share))
        return self.farthest

    @property
    def said(self) -> str:
        """What is being done."""
        if self.cancelled:
            return "Stopping"
        return SAID.get(self.work.stage, "Starting") if self.work is not None else "Starting"

    def solve(self) -> None:
        from ...core.make_kit import make_kit  # here, so that Blender starts without loading the solid library

        self.work = Work(make_kit, self.drawing.mesh, self.drawing.choices, name=self.name)

    def write(self) -> None:
        from ...core.files.kit_folder import write_kit

        self.work = Work(write_kit, self.kit, self.parent, replace=self.replace)

    def cancel(self) -> None:
        """Stop at the next step of progress. Files that were begun are taken away; an older kit stays as it was."""
        self.cancelled = True
        if self.work is not None:
            self.work.cancel()

    def give_way(self, seconds: float) -> None:
        """Leave the interpreter to the window for so long; 0: go on."""
        if self.work is not None:
            self.work.give_way(seconds)

    def step(self) -> State:
        """Where things stand; whoever gets "solved" decides and calls `write`."""
        if self.work is not None and not self.work.done:
            return "working"
        if self.work is not None:
            work, self.work = self.work, None
            try:
                result = work.result()
            except StoppedError:
                return "stopped"
            except TackwrightError as error:
                self.error = error
                return "refused"
            if isinstance(result, Path):  # written whole, also if somebody cancelled in that moment
                self.written = result
                return "written"
            self.kit = result
        return "stopped" if self.cancelled else "solved"


_current: list[Export] = []
_switching: list[float] = []
"""How long a thread ran before another could, before an export changed it."""


def busy() -> bool:
    """Whether an export is under way, or stopping."""
    return bool(_current)


def under_way() -> Export | None:
    return _current[0] if _current else None


def begin(export: Export) -> None:
    """Make it the one that is under way: `stop` ends it."""
    if not _switching:
        _switching.append(sys.getswitchinterval())
        sys.setswitchinterval(TURN)
    _current[:] = [export]


def end(export: Export) -> None:
    """It is over, whatever came of it."""
    if export in _current:
        _current.remove(export)
    if _switching and not _current:
        sys.setswitchinterval(_switching.pop())


def stop() -> None:
    """Cancel what is under way and wait for its end."""
    for export in list(_current):
        export.cancel()
        if export.work is not None:
            export.work.wait()
        end(export)

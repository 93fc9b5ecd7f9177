"""A progress bar for long work on a terminal: none where nobody looks, none where tqdm is not installed."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TextIO

__all__ = ["Counting", "Progress", "progress_bar", "uncounted"]

Progress = Callable[[str, int, int], None]
Counting = Callable[[int, int], None]
"""Within one stage: how much is done, and of how much. What is called may raise, to end the work."""


def uncounted(done: int, total: int) -> None:
    """Nobody asks how far it is."""


def _silent(stage: str, done: int, total: int) -> None:
    pass


@contextmanager
def progress_bar(stream: TextIO | None = None) -> Iterator[Progress]:
    """A function to call with a stage's name, how much of it is done, and of how much. stream: where the bar
    is drawn, standard error by default; it is taken away at the end."""
    stream = stream or sys.stderr
    if not stream.isatty():
        yield _silent
        return
    try:
        from tqdm import tqdm
    except ImportError:
        yield _silent
        return
    with tqdm(file=stream, leave=False, total=1, bar_format="{desc:<10}{bar:30} {n_fmt}/{total_fmt}", delay=0.3) as bar:

        def show(stage: str, done: int, total: int) -> None:
            bar.set_description_str(stage, refresh=False)
            bar.total, bar.n = max(total, 1), done
            bar.refresh()

        yield show

"""Tables of the user's own, as CSV files: read row by row, each fault named by its file and line."""

from __future__ import annotations

import csv
from collections.abc import Sequence
from pathlib import Path

from ..terms.errors import InputError

__all__ = ["own_rows", "read_own_table", "read_text"]


def read_own_table(path: Path | str, needed: Sequence[str], begin: str) -> list[tuple[str, dict[str, str]]]:
    """The rows of a CSV file: where each stands ("own.csv, line 2") and its cells by column, "" where it has none.

    needed: columns that must be there; others may be, in any order and case. begin: what to begin a file with.
    Raises InputError for a file that cannot be read as a table.
    """
    return own_rows(read_text(Path(path)), str(path), needed, begin)


def own_rows(text: str, where: str, needed: Sequence[str], begin: str) -> list[tuple[str, dict[str, str]]]:
    """As `read_own_table`, of a text. where: what faults name."""
    reader = csv.reader(text.splitlines())
    try:
        lines = [(reader.line_num, [cell.strip() for cell in cells]) for cells in reader]
    except csv.Error as error:
        raise InputError(f"{where} is no CSV: {error}", where=f"line {reader.line_num}", do="Mend that line") from error
    lines = [(number, cells) for number, cells in lines if any(cells)]
    if not lines:
        raise InputError(f"{where} is empty", do=f"Begin it with the line {begin}")
    (first, header), *rows = lines
    columns = [cell.casefold() for cell in header]
    if not set(needed) <= set(columns):
        raise InputError(
            f"{where}, line {first}: the columns are {', '.join(header)}",
            do=f"Begin the file with the line {begin} and separate the columns by commas")
    blank = dict.fromkeys(columns, "")
    return [(f"{where}, line {number}", blank | dict(zip(columns, cells, strict=False))) for number, cells in rows]


def read_text(path: Path) -> str:
    """A file of UTF-8 text. Raises InputError, naming the file."""
    try:
        return path.read_bytes().decode("utf-8-sig").replace("\r\n", "\n")
    except OSError as error:
        raise InputError(f"{path} cannot be opened: {error.strerror or error}", do="Check the path") from error
    except UnicodeDecodeError as error:
        raise InputError(f"{path} is no UTF-8 text", where=f"byte {error.start}", do="Save it as UTF-8") from error

"""File names that every file system takes, from names that people give."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable
from typing import Final

__all__ = ["plain_name", "safe_name", "unique_names"]

_LONGEST: Final = 96
"""UTF-8 bytes of one name: common file systems stop at 255 bytes or characters a name, and Windows at 260
a whole path, so a name leaves room for the folders above it and for an ending."""

_RESERVED: Final = re.compile(r"(con|prn|aux|nul|conin\$|conout\$|(com|lpt)[0-9¹²³])\s*(\..*)?", re.IGNORECASE)
"""Device names on Windows, with any ending too. Source: Microsoft, "Naming Files, Paths, and Namespaces"."""

_UNWANTED: Final = re.compile(r"""[\s<>:"/\\|?*_]+""")
"""Spaces trouble command lines; the rest are path signs on one system or another (same source)."""

_PLAIN: Final = re.compile(r"[^A-Za-z0-9._-]+")
"""All but the characters that every system agrees on. Source: POSIX, the portable filename character set."""

_IN_LETTERS: Final = str.maketrans({
    "ß": "ss", "æ": "ae", "Æ": "AE", "œ": "oe", "Œ": "OE", "ø": "o", "Ø": "O", "ł": "l", "Ł": "L", "đ": "d", "Đ": "D",
    "ð": "d", "Ð": "D", "þ": "th", "Þ": "Th", "ı": "i"})
"""Latin letters that no accent makes of a plain one."""

_INVISIBLE: Final = frozenset({"Cc", "Cf", "Cs", "Co", "Cn"})
"""Unicode categories that show nothing or have no meaning outside one program."""


def safe_name(text: str, *, longest: int = _LONGEST, instead: str = "unnamed") -> str:
    """`text` as a file name without its ending: letters of any script stay, the rest gives way to `_`.

    longest: UTF-8 bytes. instead: what stands where nothing is left.

    >>> safe_name("header tank: 2/3"), safe_name("Wassertank für Ö"), safe_name("CON"), safe_name("...")
    ('header_tank_2_3', 'Wassertank_für_Ö', '_CON', 'unnamed')
    """
    text = unicodedata.normalize("NFC", text)
    text = "".join(c if unicodedata.category(c) not in _INVISIBLE else " " if c.isspace() else "" for c in text)
    text = _UNWANTED.sub("_", text)
    text = text.strip("._-")            # a leading dot hides, a leading - reads as an option, Windows drops a last dot
    text = _cut(text, longest - 1).rstrip("._-")
    if not text:
        return instead
    return f"_{text}" if _RESERVED.fullmatch(text) else text


def plain_name(text: str, *, longest: int = _LONGEST, instead: str = "unnamed") -> str:
    """A safe name of letters that every service takes files by: plain Latin ones, digits, `.`, `-` and `_`.

    >>> plain_name("left+right, Größe 2"), plain_name("P03_水")
    ('left_right_Grosse_2', 'P03')
    """
    text = unicodedata.normalize("NFKD", text.translate(_IN_LETTERS))
    text = _PLAIN.sub("_", "".join(c for c in text if not unicodedata.combining(c)))
    return safe_name(text, longest=longest, instead=instead)


def unique_names(texts: Iterable[str], *, longest: int = _LONGEST) -> tuple[str, ...]:
    """Plain names, one a text in its order, no two alike where upper and lower case are one.

    >>> unique_names(["lid", "LID", "lid"])
    ('lid', 'LID_2', 'lid_3')
    """
    taken: set[str] = set()
    turns: dict[str, int] = {}
    out = []
    for text in texts:
        stem = name = plain_name(text, longest=longest)
        while _same(name) in taken:
            turn = turns[_same(stem)] = turns.get(_same(stem), 1) + 1
            ending = f"_{turn}"
            name = _cut(stem, longest - len(ending)) + ending
        taken.add(_same(name))
        out.append(name)
    return tuple(out)


def _same(name: str) -> str:
    """What a file system that knows neither case nor composed letters may keep of a name."""
    return unicodedata.normalize("NFKC", unicodedata.normalize("NFKC", name).casefold())


def _cut(text: str, longest: int) -> str:
    """The beginning of `text` that fits in `longest` UTF-8 bytes, whole characters with their accents."""
    if len(text.encode()) <= longest:
        return text
    end = len(text.encode()[:longest].decode(errors="ignore"))
    while end and unicodedata.combining(text[end]):
        end -= 1
    return text[:end]

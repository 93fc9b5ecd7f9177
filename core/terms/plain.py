"""Plain data, as JSON and TOML have it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, TypeAlias

__all__ = ["Plain", "PlainMapping"]

# Any: what stands under a key is known to the file's format alone, and looked at by whoever reads it.
Plain: TypeAlias = dict[str, Any]
PlainMapping: TypeAlias = Mapping[str, Any]

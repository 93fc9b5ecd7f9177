"""Shops that can be chosen: those built in, and files in the user's own folder."""

from __future__ import annotations

from pathlib import Path

from ...core.files.safe_names import safe_name
from ...core.files.shops import BUILT_IN, Shop, read_shop, shop_text
from ...core.terms.errors import InputError, TackwrightError
from ..host.user_files import user_folder, write_whole

__all__ = ["delete_shop", "find_shop", "is_built_in", "keep_shop", "own_shops", "shop_names", "shops_folder"]

_read: dict[Path, tuple[float, Shop | str]] = {}
"""What every file said, and its time then: menus are drawn often, and files change seldom."""


def shops_folder() -> Path:
    return user_folder() / "shops"


def own_shops() -> dict[Path, Shop | str]:
    """The user's shops by their files, in the order of the files' names; what is wrong with those that are at fault."""
    folder = shops_folder()
    files = sorted(folder.glob("*.toml")) if folder.is_dir() else []
    found: dict[Path, Shop | str] = {}
    for path in files:
        try:
            changed = path.stat().st_mtime
            if _read.get(path, (None,))[0] != changed:
                _read[path] = (changed, read_shop(path))
        except InputError as error:
            _read[path] = (changed, str(error))
        except OSError:  # gone since it was listed
            continue
        found[path] = _read[path][1]
    return found


def shop_names() -> list[str]:
    """The names that can be chosen: the user's own, then those built in."""
    own = sorted((shop.name for shop in own_shops().values() if isinstance(shop, Shop)), key=str.casefold)
    return [*own, *(shop.name for shop in BUILT_IN)]


def is_built_in(name: str) -> bool:
    return any(shop.name == name for shop in BUILT_IN)


def find_shop(name: str) -> Shop:
    """The shop of that name. Raises InputError, with what is wrong with the user's files if anything is."""
    own = own_shops()
    for shop in (*own.values(), *BUILT_IN):
        if isinstance(shop, Shop) and shop.name == name:
            return shop
    wrong = [shop for shop in own.values() if isinstance(shop, str)]
    raise InputError(
        "\n".join([f"There is no shop '{name}'", *wrong]), do="" if wrong else "Import its file in the Shop panel"
    )


def keep_shop(shop: Shop, *, replace: bool = False) -> Path:
    """Keep a shop in the user's folder. Raises InputError for a name that is taken, ExportError where it cannot be
    written."""
    if not shop.name.strip():
        raise InputError("The shop has no name", do="Give it one")
    if is_built_in(shop.name):
        raise InputError(f"'{shop.name}' is built in", do="Choose another name")
    path = shops_folder() / f"{safe_name(shop.name)}.toml"
    there = own_shops().get(path)
    if isinstance(there, Shop) and there.name != shop.name:
        raise InputError(f"'{shop.name}' would have the same file as '{there.name}'", do="Choose another name")
    if path.exists() and not replace:
        raise InputError(f"There is a shop '{shop.name}' already", do="Choose another name, or replace it")
    write_whole(path, shop_text(shop))
    _read.pop(path, None)
    return path


def delete_shop(name: str) -> None:
    """Delete the user's shop of that name. Raises TackwrightError where there is none, or it cannot be."""
    for path, shop in own_shops().items():
        if isinstance(shop, Shop) and shop.name == name:
            try:
                path.unlink()
            except OSError as error:
                raise TackwrightError(f"{path} was not deleted: {error.strerror or error}") from error
            return
    if not name:
        raise InputError("The envelope has no shop", do="Apply the one to delete first")
    stays = "Those built in stay" if is_built_in(name) else "It may be deleted already"
    raise InputError(f"'{name}' is no shop of your own", do=stays)

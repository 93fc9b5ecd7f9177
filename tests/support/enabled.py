"""The extension enabled in Blender's preferences, as Blender does it, for tests of what is kept there."""

from __future__ import annotations

import pytest


@pytest.fixture
def kept(blender, tmp_path, monkeypatch):
    """The extension's preferences, empty; its user folder is a fresh one."""
    from tackwright.addon.host import user_files
    from tackwright.addon.scene import shop_files

    for module in (user_files, shop_files):
        monkeypatch.setattr(module, "user_folder", lambda *, create=False: tmp_path / "user")
    addons = blender.context.preferences.addons
    enabled = addons.new()
    enabled.module = user_files.PACKAGE
    yield enabled.preferences
    addons.remove(enabled)

"""Tackwright: from a drawn envelope to a kit of plates.

`import tackwright.core` needs no bpy; the host editor calls `register`.
"""


def register() -> None:
    from . import addon

    addon.register()


def unregister() -> None:
    from . import addon

    addon.unregister()

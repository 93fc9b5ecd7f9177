"""What the interface says: literals that Blender can look up in its translations, data names as they are; and the
add-on keeps to itself: no network, no more permissions than it uses."""

from __future__ import annotations

import ast
import re
import tomllib

import pytest
from repo_paths import ROOT

SOURCES = sorted((ROOT / "addon").rglob("*.py"))
CORE = sorted((ROOT / "core").rglob("*.py"))
ALL = [*SOURCES, *CORE, ROOT / "__init__.py"]

SHOWN_BY_LAYOUTS = {"label", "prop", "operator", "menu", "prop_menu_enum", "prop_enum", "prop_search", "popover"}


def calls(tree):
    return (node for node in ast.walk(tree) if isinstance(node, ast.Call))


def named(call):
    return call.func.attr if isinstance(call.func, ast.Attribute) else getattr(call.func, "id", "")


def word(call, name):
    return next((k.value for k in call.keywords if k.arg == name), None)


def built(node):
    """Whether a text is put together at run time, so that no translation can know it."""
    joined = isinstance(node, ast.JoinedStr) and any(isinstance(part, ast.FormattedValue) for part in node.values)
    summed = isinstance(node, ast.BinOp) and isinstance(node.op, ast.Add | ast.Mod)
    either = isinstance(node, ast.IfExp) and (built(node.body) or built(node.orelse))
    formatted = isinstance(node, ast.Call) and named(node) in {"format", "join", "title", "capitalize", "replace"}
    return joined or summed or either or formatted


@pytest.mark.parametrize("path", SOURCES, ids=lambda path: path.stem)
def test_what_panels_show_is_a_literal_or_is_not_translated(path):
    found = []
    for call in calls(ast.parse(path.read_text(encoding="utf-8"))):
        if named(call) in SHOWN_BY_LAYOUTS and built(word(call, "text")):
            translate = word(call, "translate")
            if not (isinstance(translate, ast.Constant) and translate.value is False):
                found.append(f"{path.name}:{call.lineno}")
    assert not found, f"put together at run time, yet to be translated: {found}"


@pytest.mark.parametrize("path", SOURCES, ids=lambda path: path.stem)
def test_titles_and_the_reasons_of_grey_buttons_are_literals(path):
    # names and tooltips of properties may be put together: they are when the module is loaded, and stay so
    found = []
    tree = ast.parse(path.read_text(encoding="utf-8"))
    for call in calls(tree):
        if named(call) == "poll_message_set" and call.args:
            found += [call.lineno] if built(call.args[0]) else []
    for node in ast.walk(tree):
        if isinstance(node, ast.Assign) and getattr(node.targets[0], "id", "") in {"bl_label", "bl_description"}:
            found += [] if isinstance(node.value, ast.Constant) else [node.lineno]
    assert not found, f"{path.name}: lines {found}"


def test_the_look_at_panels_is_no_empty_one():
    shown = [c for path in SOURCES for c in calls(ast.parse(path.read_text(encoding="utf-8")))
             if named(c) in SHOWN_BY_LAYOUTS and word(c, "text") is not None]      # fmt: skip
    assert len(shown) > 30
    assert built(ast.parse('f"{a} b"', mode="eval").body) and built(ast.parse('"a" + b', mode="eval").body)
    assert not built(ast.parse('"a" if b else "c"', mode="eval").body)


NETWORK = {
    "aiohttp", "asyncio", "ftplib", "http", "httplib2", "httpx", "imaplib", "nntplib", "poplib", "requests", "smtplib",
    "socket", "socketserver", "ssl", "telnetlib", "urllib", "urllib3", "webbrowser", "websockets", "xmlrpc",
}  # fmt: skip


@pytest.mark.parametrize("path", ALL, ids=lambda path: f"{path.parent.name}.{path.stem}")
def test_nothing_talks_to_a_network(path):
    imported = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            imported |= {name.name.split(".")[0] for name in node.names}
        elif isinstance(node, ast.ImportFrom) and node.level == 0:
            imported.add((node.module or "").split(".")[0])
        elif isinstance(node, ast.Call) and named(node) in {"import_module", "__import__"} and node.args:
            first = node.args[0]
            imported |= {str(first.value).split(".")[0]} if isinstance(first, ast.Constant) else set()
    assert not imported & NETWORK
    assert "url_open" not in path.read_text(encoding="utf-8")


def test_the_permissions_asked_for_are_those_that_are_used():
    manifest = tomllib.loads((ROOT / "blender_manifest.toml").read_text(encoding="utf-8"))
    assert set(manifest["permissions"]) == {"files"}
    text = "".join(path.read_text(encoding="utf-8") for path in ALL)
    assert "write_kit" in text                                  # files: a kit's folder is written
    for other in (".clipboard", "sounddevice", "cv2"):           # clipboard, microphone, camera: other permissions
        assert other not in text


def test_errors_are_reported_in_one_place():
    """Elsewhere nobody hands an error's text to Blender: it would not be in the scene's units."""
    wrong = []
    for path in SOURCES:
        if path.stem == "reports":
            continue
        for call in calls(ast.parse(path.read_text(encoding="utf-8"))):
            if named(call) != "report" or not isinstance(call.func, ast.Attribute):
                continue
            names = {node.id for one in call.args for node in ast.walk(one) if isinstance(node, ast.Name)}
            if "error" in names and path.stem != "export_kit":       # there one is Blender's own
                wrong.append(f"{path.relative_to(ROOT)}:{call.lineno}")
    assert wrong == []


ADVICE = re.compile(r"--[a-z]|command line|job file|a job's")
"""What only a reader of the command line can do."""
ONLY_HERE = {"first_scene", "job_scene", "job_settings"}
"""Modules of the editor that open job files."""


@pytest.mark.parametrize("path", [path for path in SOURCES if path.stem not in ONLY_HERE], ids=lambda path: path.stem)
def test_the_editor_advises_no_option_of_the_command_line(path):
    tree = ast.parse(path.read_text(encoding="utf-8"))
    comments = {id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr)}
    texts = [
        node for node in ast.walk(tree)
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in comments]
    assert [f"{one.lineno}: {one.value}" for one in texts if ADVICE.search(one.value)] == []


@pytest.mark.parametrize(
    "path", [path for path in CORE if path.stem not in {"command_line", "remedy_words"}], ids=lambda path: path.stem)
def test_the_core_advises_neither_options_nor_buttons(path):
    """What it says is read in the editor and on the command line: each door adds what can be done there."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    texts = [
        (node.lineno, node.value)
        for call in calls(tree) if named(call).endswith(("Error", "Finding", "_finding", "Note", "fault"))
        for one in (*call.args, *(word.value for word in call.keywords))
        for node in ast.walk(one) if isinstance(node, ast.Constant) and isinstance(node.value, str)
    ]
    wrong = re.compile(r"--[a-z]|command line|[Pp]ress |Sidebar|Edit Mode|Object Mode|button|checkbox")
    assert [f"{line}: {text}" for line, text in texts if wrong.search(text)] == []

"""The editor's types, as mypy gets them: the groups that the extension hangs at objects are among them."""

import importlib.util
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture(scope="module")
def stubs():
    spec = importlib.util.spec_from_file_location("editor_stubs", ROOT / "packaging" / "editor_stubs.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_what_the_extension_registers_is_found_with_its_type(stubs):
    found = {(name, attribute): kind for name, attribute, kind in stubs.added(ROOT / "addon")}
    assert found["Object", "tackwright"] == "tackwright.addon.scene.properties.TackwrightSettings"
    assert found["Object", "tackwright_version"] == "int"
    assert found["Scene", "tackwright_show_choices"] == "bool"


def test_attributes_are_put_into_their_class_and_their_modules_are_imported(stubs):
    text = stubs.with_more("class Object(ID):\n    name: str\n", {"Object": {"plate": "tackwright.addon.a.Plate"}})
    assert text == "import tackwright.addon.a\nclass Object(ID):\n    plate: tackwright.addon.a.Plate\n    name: str\n"


def test_types_that_are_others_than_expected_are_refused(stubs):
    with pytest.raises(ValueError, match="nothing like .*Object"):
        stubs.with_more("class Mesh(ID):\n", {"Object": {"plate": "int"}})

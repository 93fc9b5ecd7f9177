"""The public door: what `import tackwright` gives."""

import doctest
import subprocess
import sys

import pytest

import tackwright


def test_the_example_of_the_door_is_true():
    tried = doctest.testmod(tackwright)
    assert tried.failed == 0 and tried.attempted > 5


@pytest.mark.parametrize("name", tackwright.__all__)
def test_every_name_has_an_example_that_is_true(name):
    thing = getattr(tackwright, name)
    tests = doctest.DocTestFinder(recurse=False).find(thing, name, globs=vars(sys.modules[thing.__module__]).copy())
    assert sum(len(test.examples) for test in tests) > 0, "its docstring has no example"
    runner = doctest.DocTestRunner()
    assert sum(runner.run(test).failed for test in tests) == 0


def test_the_door_is_narrow_and_says_what_it_has():
    assert 10 <= len(tackwright.__all__) <= 15 and list(tackwright.__all__) == sorted(tackwright.__all__)
    assert set(tackwright.__all__) <= set(dir(tackwright))
    with pytest.raises(AttributeError, match="no attribute 'make_kits'"):
        _ = tackwright.make_kits


def test_opening_the_door_loads_nothing():
    code = "import sys, tackwright; print(sorted({'numpy', 'shapely', 'manifold3d', 'ezdxf'} & set(sys.modules)))"
    assert subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout == "[]\n"

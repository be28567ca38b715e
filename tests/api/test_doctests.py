"""Every example in a docstring of the package is run, and gives what it says."""

import doctest
import importlib
import pkgutil

import pytest

import simulator

EXAMPLES = [
    module.name
    for module in pkgutil.walk_packages(simulator.__path__, "simulator.")
    if not module.name.endswith("__main__")
    and ">>> " in (importlib.util.find_spec(module.name).loader.get_source(module.name) or "")
]


@pytest.mark.parametrize("name", EXAMPLES)
def test_examples_in_docstrings(name):
    found = doctest.testmod(importlib.import_module(name))
    assert found.attempted > 0
    assert found.failed == 0


def test_there_are_examples():
    assert {"simulator.api.given", "simulator.api.asking"} <= set(EXAMPLES)

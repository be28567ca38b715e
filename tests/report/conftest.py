"""Made-up comparisons for the tests of this room."""

import importlib.util
from pathlib import Path

import pytest


@pytest.fixture(scope="session")
def made():
    """The module ``made_comparison.py``."""
    path = Path(__file__).with_name("made_comparison.py")
    spec = importlib.util.spec_from_file_location("made_comparison", path)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="session")
def hilly(made):
    return made.made_comparison(made.hilly_course())


@pytest.fixture(scope="session")
def lapped(made):
    return made.made_comparison(made.lapped_course())


@pytest.fixture(scope="session")
def plain(made):
    """One climb, no corner, every input exact."""
    return made.made_comparison(made.plain_course(), sd_s=None)


@pytest.fixture(scope="session")
def nasty(made):
    """Names that hold markup, formulas, escape sequences and wide letters."""
    from dataclasses import replace

    course = replace(
        made.hilly_course(name='</title><script>alert(1)</script> & "Hills"'),
        source="<img src=x onerror=alert(2)>",
    )
    first = replace(made.GANNET, name="<b>Gannet</b> $x_1$", source="a & b <i>c</i>")
    other = replace(made.PLOVER, name="</script><Plover 'n' \x1b[31m 自行车")
    return made.made_comparison(course, first=first, other=other)

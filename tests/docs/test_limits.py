"""docs/limits.md: its table is what is ridden, its files are there, its claims stand in tests."""

import re
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
sys.path.insert(0, str(ROOT / "docs"))

import make_limits  # noqa: E402

PAGE = (ROOT / "docs" / "limits.md").read_text(encoding="utf-8")


@pytest.mark.slow
def test_the_table_is_what_the_script_rides():
    assert make_limits.page_text() == PAGE, "run `python docs/make_limits.py`"


def test_every_file_and_page_named_is_there():
    for name in re.findall(r"`((?:simulator|tests)/[\w/.]+)`", PAGE):
        assert (ROOT / name).exists(), name
    for target in re.findall(r"\]\(([^)#]+)\)", PAGE):
        assert (ROOT / "docs" / target).exists(), target


def test_sizes_told_are_those_that_tests_hold():
    """Figures that stand in a test as its tolerance; who changes one finds the other here."""
    heights = (ROOT / "tests" / "course" / "test_time_error.py").read_text(encoding="utf-8")
    assert "TARGET_SHARE = 0.003" in heights
    for source, share in re.findall(r'\("(\w+)", (0\.\d+)\)', heights):
        assert f"{100.0 * float(share):.1f} % with" in PAGE, source
    oracle = (ROOT / "tests" / "oracle" / "test_tight_solution.py").read_text(encoding="utf-8")
    assert "MILLISECOND = 0.001" in oracle
    assert "0.001 s in an hour" in PAGE
    coverage = (ROOT / "docs" / "fieldtest-coverage.md").read_text(encoding="utf-8")
    biases = [abs(float(b)) for b in re.findall(r"([+-]0\.\d+) ± ", coverage)]
    assert max(biases) <= float(re.search(r"at most (0\.\d+) of an uncertainty", PAGE)[1])


def test_the_caution_is_there():
    assert "A predicted speed is never advice to ride it." in PAGE

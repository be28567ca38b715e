"""docs/method.md: every file it names is there, every source of the code is in it, numbers hold."""

import importlib
import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
PAGE = (ROOT / "docs" / "method.md").read_text(encoding="utf-8")
KEY = re.compile(r"\[([A-Z][A-Za-z]*\d{3,5}[a-z]?)(?:,[^\]]*)?\]")
ROWS = re.findall(r"^\| `(\w+)` \| ([\d. /]+) \| `(simulator/[\w/]+)\.py` \|$", PAGE, re.M)


def sources_of(folder):
    return {
        key
        for path in folder.rglob("*.py")
        for key in KEY.findall(path.read_text(encoding="utf-8"))
    }


def test_every_source_named_in_the_program_is_on_the_page():
    assert sources_of(ROOT / "simulator") - set(KEY.findall(PAGE)) == set()


def test_every_source_on_the_page_is_listed_for_developers():
    listed = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8").partition("## Sources")[2]
    assert set(KEY.findall(PAGE)) <= set(re.findall(r"^- \[(\w+)\]", listed, re.M))


def test_every_file_and_name_on_the_page_is_there():
    for name in re.findall(r"`((?:simulator|tests)/[\w/.]+)`", PAGE):
        assert (ROOT / name).exists(), name
    for name, file in re.findall(r"`(\w+)`,\s+`(simulator/[\w/]+\.py)`", PAGE):
        assert name in (ROOT / file).read_text(encoding="utf-8"), (name, file)


def test_every_link_leads_somewhere():
    for target in re.findall(r"\]\(([^)#]+)(?:#[\w-]+)?\)", PAGE):
        assert (ROOT / "docs" / target).exists(), target


def test_there_are_as_many_constants_as_rows_read():
    assert len(ROWS) == PAGE.partition("| Constant |")[2].count("\n| `")


@pytest.mark.parametrize(("name", "written", "module"), ROWS)
def test_constants_are_those_of_the_program(name, written, module):
    value = getattr(importlib.import_module(module.replace("/", ".")), name)
    top, _, bottom = written.partition(" / ")
    decimals = len(top.partition(".")[2])
    expected = float(top) / float(bottom or 1.0)
    assert value == pytest.approx(expected, abs=0.5 * 10.0**-decimals, rel=1e-12)

"""Terminal text and page as they were last found good; see README.md here."""

import importlib.util
import os
import re
from pathlib import Path

import pytest

from simulator import __version__
from simulator.report import gap_page, gap_text, lineup_text, make_gap_view, make_lineup_view

HERE = Path(__file__).parent


@pytest.fixture(scope="module")
def made():
    path = HERE.parent / "report" / "made_comparison.py"
    spec = importlib.util.spec_from_file_location(path.stem, path)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="module")
def comparisons(made):
    return {
        "hilly": made.made_comparison(made.hilly_course()),
        "lapped": made.made_comparison(made.lapped_course()),
        "plain": made.made_comparison(made.plain_course(), sd_s=None),
        "turned": made.made_comparison(first=made.PLOVER, other=made.GANNET),
        "unsure": made.made_comparison(sd_s=60.0),
    }


def scrubbed(page):
    """The page without what changes for other reasons than its content."""
    page = re.sub(r"<style>.*?</style>", "<style>…</style>", page, flags=re.S)
    page = re.sub(r"(<script[^>]*>).*?(</script>)", r"\1…\2", page, flags=re.S)
    page = re.sub(r"sha256-[A-Za-z0-9+/=]+", "sha256-…", page)
    page = re.sub(r' (d|points|data-sort|data-from|data-to)="[^"]*"', r' \1="…"', page)
    page = re.sub(r' (x|y|cx|cy|width|height)="[\d.]+"', r' \1="…"', page)
    page = re.sub(r"(left|top|width|height):[\d.]+", r"\1:…", page)
    page = re.sub(r"rotate\([\d.]+\)", "rotate(…)", page)
    page = re.sub(r"\n\s*\n", "\n", page)
    return page.replace(__version__, "VERSION")


def hold(name, text, tmp_path):
    gold = HERE / name
    if os.environ.get("BUILDGAP_GOLD") == "update":
        gold.write_text(text, encoding="utf-8", newline="\n")
    if not gold.exists() or gold.read_text("utf-8") != text:
        actual = tmp_path / name
        actual.write_text(text, encoding="utf-8", newline="\n")
        expected = gold.read_text("utf-8") if gold.exists() else ""
        assert text == expected, f"compare {actual} with {gold}; see tests/gold/README.md"


@pytest.mark.parametrize("name", ["hilly", "lapped", "plain", "turned", "unsure"])
def test_terminal(comparisons, name, tmp_path):
    hold(f"terminal_{name}.txt", gap_text(make_gap_view(comparisons[name])), tmp_path)


def test_terminal_of_a_line_up(comparisons, made, tmp_path):
    pair = [comparisons["hilly"], made.made_comparison(other=made.GANNET, sd_s=None)]
    text = lineup_text(make_lineup_view(pair, folders=["2-plover", "3-gannet"]))
    hold("terminal_lineup.txt", text, tmp_path)


@pytest.mark.parametrize("name", ["hilly", "plain"])
def test_page(comparisons, name, tmp_path):
    hold(f"page_{name}.html", scrubbed(gap_page(make_gap_view(comparisons[name]))), tmp_path)

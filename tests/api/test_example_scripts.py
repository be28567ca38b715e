"""Every script in examples/ runs as it stands, from an empty folder, and says what it promises."""

import re
import runpy
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
SCRIPTS = sorted((ROOT / "examples").glob("*.py"))

SAID = {
    "ride_one_build": r"Out \d+\.\d min, back \d+\.\d min",
    "compare_two_builds": r"Most is lost from km \d",
    "spend_a_budget": r" 250: +\d+\.\d s with \w",
    "read_a_field_test": r"CdA 0\.\d{4} ± 0\.\d{4} m², Crr 0\.00\d+",
    "pace_a_race": r"\d+ s, \d+\.\d s quicker than the best constant power",
    "survive_a_criterium": r"Plover: \d+ W on average, \d+ W at most",
}
WRITTEN = {
    "compare_two_builds": "out/compare/index.html",
    "spend_a_budget": "out/spend/shopping.csv",
    "pace_a_race": "out/pace/card-pocket.pdf",
    "survive_a_criterium": "out/bunch/bunch.png",
}


def test_there_is_a_script_for_each_job():
    assert {path.stem for path in SCRIPTS} == set(SAID)


SLOW = {"read_a_field_test", "spend_a_budget"}


@pytest.mark.parametrize(
    "script",
    [
        pytest.param(path, id=path.stem, marks=[pytest.mark.slow] if path.stem in SLOW else [])
        for path in SCRIPTS
    ],
)
def test_script_runs(script, tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    runpy.run_path(str(script), run_name="__main__")
    assert re.search(SAID[script.stem], capsys.readouterr().out)
    if script.stem in WRITTEN:
        assert (tmp_path / WRITTEN[script.stem]).stat().st_size > 100


@pytest.mark.parametrize("script", SCRIPTS, ids=lambda path: path.stem)
def test_script_is_short_and_carries_its_caution(script):
    text = script.read_text(encoding="utf-8")
    code = [
        line
        for line in text.split('"""')[2].splitlines()
        if line.strip() and not line.startswith("#")
    ]
    assert len(code) <= 25
    assert re.search(r"never advice|rules of the road|see a doctor|Ask a mechanic", text)

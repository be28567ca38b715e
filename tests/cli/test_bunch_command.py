"""`buildgap bunch`: what it prints, writes and refuses."""

import json

import pytest
from click.testing import CliRunner

from simulator.cli import main
from simulator.starters import starter_path

FILES = [
    "--course", str(starter_path("courses/town-criterium")),
    "--laps", "4",
    "--build", str(starter_path("configs/gannet.toml")),
    "--build", str(starter_path("configs/plover.toml")),
    "--rider", str(starter_path("configs/rider.toml")),
]  # fmt: skip


def run(*arguments):
    return CliRunner().invoke(main.group, ["bunch", *arguments])


@pytest.fixture(scope="module")
def raced(tmp_path_factory):
    out = tmp_path_factory.mktemp("bunch") / "out"
    result = run(
        *FILES, "--bunch", str(starter_path("configs/bunch.toml")), "--power", "420",
        "--draws", "200", "--out", str(out),
    )  # fmt: skip
    return result, out


def test_the_race_is_told_within_the_terminal(raced):
    result, out = raced
    assert result.exit_code == 0, result.output
    flat = " ".join(result.output.split())
    for words in ("more on Plover than on Gannet", "places", "Chance of that", "paired draws",
                  "learn it with a club", "see a doctor", "Solo break", "Sprint"):  # fmt: skip
        assert words in flat
    assert all(len(line) <= 80 for line in result.output.splitlines() if str(out) not in line)


def test_files_hold_the_same(raced):
    _, out = raced
    assert {p.name for p in out.iterdir()} == {"index.html", "bunch.png", "bunch.svg", "bunch.json"}
    written = json.loads((out / "bunch.json").read_text(encoding="utf-8"))
    assert written["schema"] == "buildgap/bunch"
    first, other = written["data"]["builds"]
    assert other["mean_w"] > first["mean_w"]
    assert len(first["laps"]) == 4
    page = (out / "index.html").read_text(encoding="utf-8")
    assert "Content-Security-Policy" in page
    assert 'src="http' not in page


def test_place_in_front_costs_more(raced):
    _, out = raced
    sheltered = json.loads((out / "bunch.json").read_text(encoding="utf-8"))["data"]["builds"][0]
    result = run(*FILES, "--power", "420", "--place", "1", "--draws", "0", "--json")
    front = json.loads(result.output)["data"]["builds"][0]
    assert front["mean_w"] > 1.3 * sheltered["mean_w"]
    assert front["chance_lost"] is None


def test_two_paces_are_refused():
    result = run(*FILES, "--power", "300", "--pacing", str(starter_path("configs/pacing.toml")))
    assert result.exit_code != 0
    assert "one of them" in str(result.exception)


def test_results_are_not_overwritten_unasked(raced):
    _, out = raced
    result = run(*FILES, "--power", "300", "--out", str(out))
    assert "exists already" in str(result.exception)

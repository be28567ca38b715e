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


def test_a_recorded_race_sets_the_pace(tmp_path):
    # 38 km/h along the track of the course, one sample a second, four laps.
    import numpy as np

    from simulator.course import build_course

    course = build_course(starter_path("courses/town-criterium"), n_laps=4, tiles_folder=None)
    times_s = np.arange(0.0, course.distance_m / (38.0 / 3.6), 1.0)
    at_m = times_s * 38.0 / 3.6
    lats = np.interp(at_m, course.node_distances_m, course.node_lats_deg)
    lons = np.interp(at_m, course.node_distances_m, course.node_lons_deg)
    lines = [f"{t:g},{a:.7f},{b:.7f}" for t, a, b in zip(times_s, lats, lons, strict=True)]
    race = tmp_path / "race.csv"
    race.write_text("time_s,lat_deg,lon_deg\n" + "\n".join(lines), encoding="utf-8")
    result = run(*FILES, "--recorded", str(race), "--draws", "0", "--json")
    assert result.exit_code == 0, result.output
    told = json.loads(result.output)["data"]
    assert told["bunch_mps"] * 3.6 == pytest.approx(38.0, rel=0.01)
    assert "race.csv" in told["bunch_source"]
    assert any("smoothed" in text for text in told["more"])
    assert len(told["smoothing_w"]) == 2


@pytest.mark.parametrize("option", ["--power", "--pacing", "--reference-rider"])
def test_a_recording_goes_with_no_other_pace(option, tmp_path):
    value = "300" if option == "--power" else str(starter_path("configs/pacing.toml"))
    result = run(*FILES, "--recorded", str(tmp_path / "none.csv"), option, value)
    assert result.exit_code != 0
    assert "the recording holds the bunch's speed" in str(result.exception)


def test_a_recording_of_elsewhere_is_refused(tmp_path):
    race = tmp_path / "race.csv"
    lines = [f"{t},{10.0 + t * 1e-4},20.0" for t in range(600)]
    race.write_text("time_s,lat_deg,lon_deg\n" + "\n".join(lines), encoding="utf-8")
    result = run(*FILES, "--recorded", str(race))
    assert result.exit_code != 0
    assert "no part of it lies on the course" in str(result.exception)

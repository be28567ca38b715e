"""``buildgap demo`` on the shipped files."""

import json

import pytest

from simulator.cli import comparing, main


@pytest.fixture(scope="module")
def demo(tmp_path_factory):
    """Folder of a demo that ran twice, so that it replaced its own files."""
    folder = tmp_path_factory.mktemp("demo") / "out"
    for _ in range(2):
        with pytest.raises(SystemExit) as left:
            main.run(["demo", "--out", str(folder), "--quiet"])
        assert left.value.code == 0
    return folder


@pytest.fixture(scope="module")
def data(demo):
    return json.loads((demo / "comparison.json").read_text("utf-8"))["data"]


@pytest.mark.slow
def test_the_demo_leaves_a_page_pictures_csv_and_json(demo):
    assert sorted(path.name for path in demo.iterdir()) == sorted(comparing.FILES)
    assert (demo / "index.html").stat().st_size < 500_000


@pytest.mark.slow
def test_the_first_demo_shows_a_climb_a_fast_descent_and_braked_corners(data):
    assert data["course"]["distance_m"] >= 40_000.0
    kinds = {row["kind"] for row in data["places"]}
    assert {"climb", "descent"} <= kinds
    assert data["first"]["top_speed_mps"] > 60.0 / 3.6
    braking = next(row for row in data["energy"] if row["cause"] == "braking")
    assert braking["first_j"] > 0.0
    assert len(data["corners"]) >= 3


@pytest.mark.slow
def test_the_demo_names_the_affordable_build_as_the_one_that_loses(data):
    assert (data["first"]["name"], data["other"]["name"]) == ("Gannet", "Plover")
    assert data["gap_s"] > 0.0
    assert data["sentence"].startswith("On Three Hills, Plover gives away")
    assert data["doubt"]["n_draws"] == 2000

"""The shipped plan loads, shows every key, and its races ride as it says."""

import tomllib
from pathlib import Path

from simulator.setup import load_build, load_rider
from simulator.spend import SpendFile, load_plan, read_races
from simulator.spend.races_file import RaceEntry

CONFIGS = Path(__file__).parents[2] / "configs"


def test_every_key_stands_in_the_example():
    written = tomllib.loads((CONFIGS / "spend.toml").read_text(encoding="utf-8"))
    assert set(written) == set(SpendFile.model_fields)
    assert set().union(*written["race"]) == set(RaceEntry.model_fields)


def test_example_loads():
    budgets, wishes = load_plan(CONFIGS / "spend.toml")
    assert budgets == (500, 1000, 1500, 2500)
    rider, build = load_rider(CONFIGS / "rider.toml"), load_build(CONFIGS / "plover.toml")
    races = read_races(wishes, rider=rider, build=build)
    assert [race.weight for race in races] == [2.0, 1.0, 1.0]
    assert races[1].name == "Club criterium"
    assert races[1].course.n_laps == 10
    assert races[1].demand.powers_w.max() == 250.0
    assert "pacing" in races[2].demand.text
    assert not races[2].demand.is_open
    assert all(race.rider is rider for race in races)

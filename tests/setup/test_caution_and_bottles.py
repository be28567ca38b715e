"""Keys of a rider that stand for several figures: caution, bottles, decline, out of the saddle."""

import math
from pathlib import Path

import pytest

from simulator.errors import InputError
from simulator.setup import Uncertain, caution_of, default_rider, load_build, load_rider
from simulator.setup.defaults import CAUTION_LEVELS

CONFIGS = Path(__file__).parents[2] / "configs"


@pytest.fixture
def rider_of(tmp_path):
    def load(text):
        path = tmp_path / "rider.toml"
        path.write_text(text, encoding="utf-8")
        return load_rider(path)

    return load


def test_levels_of_caution_grow_in_all_three_figures():
    careful, steady, bold = (CAUTION_LEVELS[name] for name in ("careful", "steady", "bold"))
    for name in ("lean_deg", "pedal_lean_deg", "braking_g"):
        assert getattr(careful, name) < getattr(steady, name) < getattr(bold, name)
    # What is used sideways stays within the 0.5 to 0.7 g called sensible (from memory) up to bold.
    assert math.tan(math.radians(bold.lean_deg)) == pytest.approx(0.70, abs=0.005)
    # Braking stays below pitching over the front wheel, g l/h = 0.52 g (see ride/prepare.py).
    assert bold.braking_g < 0.60 / 1.15


@pytest.mark.parametrize("name", CAUTION_LEVELS)
def test_a_level_by_its_name_sets_what_the_file_leaves_out(rider_of, name):
    rider, level = rider_of(f'caution = "{name}"'), CAUTION_LEVELS[name]
    assert (rider.lean_deg, rider.pedal_lean_deg, rider.braking_g) == (
        level.lean_deg,
        level.pedal_lean_deg,
        level.braking_g,
    )
    assert rider.caution == name


def test_figures_of_ones_own_go_before_the_level_and_are_told(rider_of):
    rider = rider_of('caution = "bold"\nbraking_g = 0.3')
    assert (rider.lean_deg, rider.braking_g) == (CAUTION_LEVELS["bold"].lean_deg, 0.3)
    assert rider.caution == "bold, but for braking_g"


def test_without_a_word_the_rider_is_steady(rider_of):
    assert default_rider().caution == "steady"
    assert rider_of("mass_kg = 70").caution == "steady"


def test_no_pedalling_beyond_the_lean_of_the_rider(rider_of):
    # A small lean given alone takes the lean with pedalling along.
    assert rider_of("lean_deg = 12").pedal_lean_deg == 12.0
    with pytest.raises(InputError, match="at most the lean in a corner, 30"):
        rider_of("pedal_lean_deg = 31")


def test_bottles_are_kit_unless_they_are_told(rider_of):
    assert rider_of("mass_kg = 70").bottles_kg == Uncertain(0.0)
    assert rider_of("mass_kg = 70").kit_kg == default_rider().kit_kg
    told = rider_of("bottles_kg = { value = 1.6, sd = 0.3 }")
    assert told.bottles_kg == Uncertain(1.6, 0.3)
    # The default kit holds two bottles, which must not count twice.
    assert told.kit_kg.value == pytest.approx(default_rider().kit_kg.value - 1.2)
    assert rider_of("kit_kg = 2\nbottles_kg = 1").kit_kg == Uncertain(2.0)


def test_hours_become_seconds_and_decline_is_off_by_default(rider_of):
    rider = rider_of("decline_after_h = 1.5\ndecline_per_log = 0.06\npedal_delay_s = 0.4")
    assert (rider.decline_after_s, rider.decline_per_log) == (5400.0, 0.06)
    assert rider.pedal_delay_s == 0.4
    assert default_rider().decline_after_s is None
    assert default_rider().pedal_delay_s == 0.0


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ('caution = "brave"', "key `caution`"),
        ("decline_after_h = 1", "`decline_per_log` is missing; expected both or neither"),
        ("decline_per_log = 0.05", "`decline_after_h` is missing"),
        ("[positions]\nstanding_factor = 1.2", "line 2, key `positions.standing_factor`: "
         "`standing_power_w` is missing"),
        ("[positions]\nstanding_power_w = 300", "`standing_factor` is missing"),
        ("standing_power_w = 300", "it belongs in the table [positions]"),
        ("bottles_kg = -1", "found -1"),
        ("pedal_delay_s = 20", "found 20"),
    ],
)  # fmt: skip
def test_wrong_figures_are_told(rider_of, text, words):
    with pytest.raises(InputError) as caught:
        rider_of(text)
    assert words in str(caught.value)


def test_example_of_a_long_day_says_what_it_means():
    rider = load_rider(CONFIGS / "rider-long-day.toml")
    # Its comment: "so at 4 hours by 0.06 times ln(4 / 1.5), 6 percent".
    lost = rider.decline_per_log * math.log(4.0 * 3600.0 / rider.decline_after_s)
    assert lost == pytest.approx(0.06, abs=0.005)
    assert rider.caution == "careful, but for lean_deg, pedal_lean_deg, braking_g"


def test_a_build_may_name_its_own_level(tmp_path):
    path = tmp_path / "bold.toml"
    text = 'name = "B"\nmass_kg = 8\ncda_m2 = 0.3\ncrr = 0.004\n'
    path.write_text(text, encoding="utf-8")
    assert load_build(path).caution is None
    path.write_text(text + 'caution = "bold"\n', encoding="utf-8")
    rider = default_rider()
    assert caution_of(rider, load_build(path)) == CAUTION_LEVELS["bold"]
    path.write_text(text + 'caution = "reckless"\n', encoding="utf-8")
    with pytest.raises(InputError, match=r"caution.*reckless"):
        load_build(path)

"""Answers from Python: the laws they keep, and that they say what the command line says."""

import json
from pathlib import Path

import numpy as np
import pytest

import simulator as bg
from simulator.cli import main
from simulator.errors import InputError

CLIMB = bg.example_path("courses/steady-climb")
PLOVER, GANNET = bg.example_path("configs/plover.toml"), bg.example_path("configs/gannet.toml")
PARTS = bg.example_path("configs/parts.toml")
RIDER = bg.example_path("configs/rider.toml")
YEAR = Path(__file__).parents[1] / "setup" / "data" / "june_afternoons.epw"
A_MILLISECOND = 0.001
SHOWN_S = 0.05
"""Half of the last decimal that JSON files show of a gap."""


@pytest.fixture(scope="module")
def course():
    return bg.load_course(CLIMB)


@pytest.fixture(scope="module")
def gap(course):
    return bg.compare_builds(course, GANNET, PLOVER, rider=RIDER, n_draws=400)


@pytest.fixture(scope="module")
def criterium():
    return bg.load_course(bg.example_path("courses/town-criterium"), laps=2)


def told_by_the_command_line(capsys, *arguments):
    with pytest.raises(SystemExit) as left:
        main.run([str(argument) for argument in arguments])
    assert left.value.code == 0
    return json.loads(capsys.readouterr().out)


def test_a_ride_is_arrays_that_agree_with_each_other(course):
    answer = bg.ride_build(course, PLOVER, rider=RIDER, power_w=260.0)
    n = course.n_segments
    assert answer.distances_m.shape == answer.times_s.shape == answer.speeds_mps.shape == (n + 1,)
    assert answer.powers_w.shape == (n,)
    assert answer.times_s[-1] == answer.time_s
    segment_s = np.diff(answer.times_s)
    # Work is power times time, and all of it went somewhere.
    work_j = answer.powers_w @ segment_s
    assert sum(answer.energies_j.values()) == pytest.approx(work_j, rel=1e-6)
    assert answer.mean_power_w == pytest.approx(work_j / answer.time_s)
    # Arrays of results are not to be changed by accident.
    with pytest.raises(ValueError, match="read-only"):
        answer.speeds_mps[0] = 99.0


def test_paths_and_objects_give_the_same_ride(course):
    by_path = bg.ride_build(CLIMB, PLOVER, rider=RIDER)
    by_text = bg.ride_build(str(CLIMB), str(PLOVER), rider=str(RIDER))
    by_object = bg.ride_build(course, bg.load_build(PLOVER), rider=bg.load_rider(RIDER))
    assert by_path.time_s == by_text.time_s == by_object.time_s


def test_a_gap_is_one_ride_less_the_other(course, gap):
    assert gap.gap_s == gap.other.time_s - gap.first.time_s
    assert gap.gaps_s.shape == gap.distances_m.shape == (course.n_segments + 1,)
    assert gap.gaps_s[-1] == gap.gap_s
    assert sum(gap.causes_s.values()) == pytest.approx(gap.gap_s, abs=A_MILLISECOND)
    assert sum(s.gap_s for s in gap.stretches) == pytest.approx(gap.gap_s, abs=A_MILLISECOND)


def test_draws_hold_what_the_interval_says(gap):
    low_s, high_s = gap.interval_s
    inside = np.mean((gap.draws_s >= low_s) & (gap.draws_s <= high_s))
    assert len(gap.draws_s) == 400
    assert inside == pytest.approx(0.9, abs=0.01)
    assert gap.chance_first_faster == np.mean(gap.draws_s > 0.0)


def test_swapping_the_builds_turns_the_sign(course, gap):
    swapped = bg.compare_builds(course, PLOVER, GANNET, rider=RIDER, n_draws=0)
    assert swapped.gap_s == pytest.approx(-gap.gap_s, abs=A_MILLISECOND)
    assert swapped.draws_s is None
    assert swapped.interval_s is None


def test_the_command_line_says_the_same(capsys, gap):
    told = told_by_the_command_line(
        capsys, "compare", "--course", CLIMB, "--build", GANNET, "--build", PLOVER,
        "--rider", RIDER, "--draws", "400", "--json",
    )  # fmt: skip
    assert json.loads(gap.files()["comparison.json"]) == told


def test_a_line_up_holds_every_gap(course, gap):
    light = bg.make_build(name="Plover", mass_kg=6.8, cda_m2=0.325, crr=0.0042)
    many = bg.compare_many(course, [GANNET, PLOVER, light], rider=RIDER, n_draws=0)
    assert list(many.gaps_s) == ["Plover", "Plover 2"]
    assert many.gaps_s["Plover"] == gap.gap_s
    with pytest.raises(ValueError, match="two builds"):
        bg.compare_many(course, [GANNET])


@pytest.mark.slow
def test_a_line_up_is_saved_with_a_folder_for_each_build(course, tmp_path):
    light = bg.make_build(name="Plover", mass_kg=6.8, cda_m2=0.325, crr=0.0042)
    many = bg.compare_many(course, [GANNET, PLOVER, light], rider=RIDER, n_draws=0)
    written = {path.relative_to(tmp_path).as_posix() for path in many.save(tmp_path)}
    assert {"index.html", "lineup.json", "2-plover/gap.png", "3-plover-2/gap.csv"} <= written


def test_an_answer_says_itself_in_a_sentence_and_prints_the_table(gap):
    sentence, table = repr(gap), str(gap)
    assert "\n" not in sentence
    assert sentence.startswith("<GapAnswer: ")
    assert "Plover" in sentence
    assert "Gannet" in sentence
    assert "never advice to ride it" in table
    assert max(map(len, table.splitlines())) <= 80


def test_saving_writes_what_the_command_line_writes_and_replaces_nothing(gap, tmp_path):
    from simulator.cli.comparing import FILES

    written = gap.save(tmp_path / "out")
    assert {path.name for path in written} == set(FILES)
    before = {path: path.stat().st_mtime_ns for path in written}
    with pytest.raises(InputError, match="exists already"):
        gap.save(tmp_path / "out")
    assert {path: path.stat().st_mtime_ns for path in written} == before


def test_what_stands_in_an_answer_shows_itself_in_a_line(course, gap):
    assert repr(gap.first) == f"<Ride of Gannet over Steady climb: {gap.first.time_s:.1f} s>"
    assert repr(course).startswith("<Course Steady climb: 3.31 km, ")


def test_a_figure_is_drawn(gap):
    assert len(gap.figure().axes) >= 3


def test_pacing_from_rules_changes_the_power(course):
    harder = bg.make_pacing("Harder up", {"kind": "grade", "above_pct": 3.0, "add_w_per_pct": 10.0})
    plain = bg.ride_build(course, PLOVER, power_w=200.0)
    paced = bg.ride_build(course, PLOVER, power_w=200.0, pacing=harder)
    steep, flat = course.grades > 0.06, np.abs(course.grades) < 0.02
    assert (paced.powers_w[steep] > plain.powers_w[steep] + 20.0).all()
    assert paced.powers_w[flat] == pytest.approx(plain.powers_w[flat], abs=0.1)


def test_gusts_widen_the_doubt_of_a_gap_and_change_no_time(course):
    calm = {"wind_kmh": 20.0, "wind_from_deg": 90.0}
    steady, gusty = (
        bg.compare_builds(course, GANNET, PLOVER, weather=bg.make_weather(**keys), n_draws=200)
        for keys in (calm, {**calm, "gust_kmh": 55.0})
    )
    assert steady.gap_s == gusty.gap_s
    assert gusty.comparison.doubt.sd_s > steady.comparison.doubt.sd_s


def test_spending_more_never_gains_less(course):
    answer = bg.spend_budget(
        PLOVER, bg.example_path("configs/parts.toml"), course, [300.0, 150.0], n_draws=0
    )
    assert answer.gains_s[0.0] <= answer.gains_s[150.0] <= answer.gains_s[300.0]
    assert answer.parts[300.0]
    assert (np.diff(answer.frontier_prices) > 0.0).all()
    assert (np.diff(answer.frontier_gains_s) > 0.0).all()
    assert "seconds" in str(answer) or " s" in str(answer)


def test_a_bunch_shelters_and_the_dearer_build_needs_less(criterium):
    alone_w = 330.0
    answer = bg.ride_bunch(criterium, [GANNET, PLOVER], rider=RIDER, power_w=alone_w, n_draws=0)
    assert answer.mean_w["Gannet"] < answer.mean_w["Plover"] < alone_w
    assert answer.needed_w("Plover").shape == (criterium.n_segments,)
    assert answer.chance_lost == {"Gannet": None, "Plover": None}
    with pytest.raises(KeyError):
        answer.needed_w("Heron")


def test_the_quickest_plan_beats_the_best_constant_power_and_can_be_ridden_again(course):
    rider = bg.make_rider(cp_w=250.0, wprime_kj=15.0, max_power_w=800.0)
    answer = bg.solve_powerplan(course, PLOVER, rider=rider, changes=3)
    assert answer.saved_s > 0.0
    assert answer.powers_w.shape == answer.quickest_w.shape == (course.n_segments,)
    again = bg.ride_build(course, PLOVER, rider=rider, pacing=answer.pacing)
    assert again.time_s == pytest.approx(answer.time_s, abs=0.1)
    with pytest.raises(ValueError, match="one of them"):
        bg.solve_powerplan(course, PLOVER, rider=rider, mean_w=200.0, fourth_power_mean_w=210.0)


def test_pacings_side_by_side_add_the_best_constant_power(course):
    rider = bg.make_rider(power_w=240.0, cp_w=250.0, wprime_kj=15.0)
    even = bg.make_pacing("Even", {"kind": "constant", "power_w": 240.0})
    answer = bg.try_pacings(course, PLOVER, [even], rider=rider)
    names = list(answer.times_s)
    assert names[0] == "Even"
    assert answer.times_s[names[1]] < answer.times_s["Even"]
    assert "Even" in str(answer)


def test_a_verdict_gives_observed_and_predicted_gaps():
    answer = bg.judge_fieldtest(bg.example_path("configs/fieldtest/two-climbs.toml"))
    assert answer.observed_s.shape == answer.predicted_s.shape == (2,)
    assert answer.is_expected == all(c.is_expected for c in answer.verdict.climbs)
    assert {"index.html", "fieldtest.json", "fieldtest.png"} <= set(answer.files())


def test_planned_runs_tell_every_mix_and_both_take_no_fewer_than_either():
    answer = bg.plan_runs(bg.example_path("configs/fieldtest/runs.toml"))
    mixes = {" + ".join(plan.options) for plan in answer.plan.plans}
    assert set(answer.runs_for_cda) == set(answer.runs_for_both) == mixes
    assert any(n is not None for n in answer.runs_for_cda.values())
    for mix in mixes:
        both, cda, crr = (
            np.inf if n is None else n
            for n in (
                answer.runs_for_both[mix],
                answer.runs_for_cda[mix],
                answer.runs_for_crr[mix],
            )
        )
        assert both >= max(cda, crr)


@pytest.mark.slow
def test_a_fit_gives_builds_that_can_be_compared(course):
    answer = bg.infer_fieldtest(bg.example_path("configs/fieldtest/testday.toml"))
    first, other = answer.builds.values()
    assert first.cda_m2.value == pytest.approx(answer.cda_m2[first.name].value, abs=1e-5)
    assert first.crr.sd == pytest.approx(answer.crr[first.name].sd, abs=1e-6)
    gap = bg.compare_builds(course, first, other, n_draws=200)
    assert gap.interval_s[0] < gap.gap_s < gap.interval_s[1]
    assert {f"{name.lower()}.toml" for name in answer.builds} <= {n.lower() for n in answer.files()}


def recorded(ride, folder):
    """The ride as a head unit would write it: one line a second."""
    course = ride.ride.course
    times_s = np.arange(0.0, ride.time_s)
    places_m = np.interp(times_s, ride.times_s, ride.distances_m)
    at = np.searchsorted(ride.distances_m, places_m, side="right") - 1
    columns = {
        "time_s": times_s,
        "lat_deg": np.interp(places_m, ride.distances_m, course.node_lats_deg),
        "lon_deg": np.interp(places_m, ride.distances_m, course.node_lons_deg),
        "height_m": np.interp(places_m, ride.distances_m, ride.heights_m),
        "speed_mps": np.interp(places_m, ride.distances_m, ride.speeds_mps),
        "power_w": ride.powers_w[np.clip(at, 0, len(ride.powers_w) - 1)],
    }
    path = folder / "ride.csv"
    rows = zip(*columns.values(), strict=True)
    lines = [",".join(columns), *(",".join(f"{x:.8f}" for x in row) for row in rows)]
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path


def test_a_ride_of_the_model_shows_no_gap_to_the_model(course, tmp_path):
    ride = bg.ride_build(course, PLOVER, rider=RIDER, power_w=230.0)
    answer = bg.review_ride(course, PLOVER, recorded(ride, tmp_path), rider=RIDER)
    assert abs(answer.gap_s) < 0.005 * ride.time_s
    assert answer.gaps_s.shape == answer.distances_m.shape
    heavy = bg.make_rider(mass_kg=82.0, kit_kg=1.8, bottles_kg=1.2, power_w=230.0)
    doubted = bg.review_ride(course, PLOVER, tmp_path / "ride.csv", rider=heavy)
    # Ten kilograms too many in the file: the recorded ride is the quicker one, by a tenth.
    assert doubted.gap_s == pytest.approx(-0.1 * ride.time_s, rel=0.35)
    assert {"mass", "power"} & {suspect.kind for suspect in doubted.suspects[:4]}
    assert "review.json" in answer.files()


def test_several_races_add_up(course):
    calm, windy = bg.make_weather(), bg.make_weather(wind_kmh=20.0, wind_from_deg=0.0, name="Windy")
    answer = bg.compare_races(
        course, [GANNET, PLOVER], rider=RIDER, weathers=[calm, windy], n_draws=0
    )
    assert answer.races == ("Calm standard day", "Windy")
    assert answer.gaps_s.shape == (2, 1)
    assert answer.totals_s["Plover"] == pytest.approx(answer.gaps_s.sum())
    alone = bg.compare_builds(course, GANNET, PLOVER, rider=RIDER, weather=windy, n_draws=0)
    assert answer.gaps_s[1, 0] == pytest.approx(alone.gap_s, abs=A_MILLISECOND)
    with pytest.raises(ValueError, match="two builds"):
        bg.compare_races(course, [GANNET])


def test_a_recorded_bunch_sets_the_speed(criterium, tmp_path):
    alone = bg.ride_build(criterium, PLOVER, rider=RIDER, power_w=280.0)
    path = recorded(alone, tmp_path)
    answer = bg.ride_bunch(criterium, PLOVER, rider=RIDER, recording=path, n_draws=0)
    assert answer.mean_w["Plover"] < alone.mean_power_w
    with pytest.raises(ValueError, match="no power, pacing or reference"):
        bg.ride_bunch(criterium, PLOVER, recording=path, power_w=300.0)


def test_other_units_change_the_words_and_no_number(gap):
    miles = gap.in_units("imperial")
    assert " mi" in str(miles)
    assert " km" in str(gap)
    assert " km" not in str(miles)
    assert miles.gap_s == gap.gap_s
    assert miles.files()["comparison.json"] == gap.files()["comparison.json"]
    with pytest.raises(ValueError, match="metric or imperial"):
        gap.in_units("furlongs")


def test_what_a_track_became_is_told_and_drawn(course):
    checked = bg.check_course(course)
    assert checked.quality.length_m == course.distance_m
    assert checked.quality.max_grade_50m >= course.grades.mean()
    assert "Steepest up" in str(checked)
    assert "3.31 km" in repr(checked)
    assert {"course.gpx", "course.csv", "course.json", "course.png"} <= set(checked.files())
    assert " ft" in str(checked.in_units("imperial"))


def test_usual_weather_is_that_of_the_command(tmp_path, capsys):
    usual = bg.usual_weather(YEAR, month=6, hour=14)
    with pytest.raises(SystemExit):
        main.run(["weather", str(YEAR), "--month", "6", "--hour", "14",
                  "--out", str(tmp_path / "june.toml")])  # fmt: skip
    capsys.readouterr()
    written = bg.load_weather(tmp_path / "june.toml")
    assert usual.wind_mps == written.wind_mps
    assert usual.wind_mps.sd > 0.0
    with pytest.raises(InputError):
        bg.usual_weather(CLIMB / "track.gpx", month=6, hour=14)

"""A race in the bunch: laws between builds, places and paces."""

from dataclasses import replace

import numpy as np
import pytest

from simulator.bunch import load_bunch, ride_bunch
from simulator.bunch.endings import cut_course
from simulator.course import Feature, course_from_arrays
from simulator.errors import InputError
from simulator.pacing import constant_demand
from simulator.report import make_bunch_view
from simulator.ride import capacity_w, open_rehearsal, simulate
from simulator.setup import Uncertain

RULES = replace(load_bunch(None), place=5.0)
RESERVE = {"cp_w": 250.0, "wprime_j": 16_000.0, "max_power_w": 900.0}


@pytest.fixture
def hill_laps():
    """Four laps of 2 km: a climb of 600 m at 5 %, the way down, the flat."""
    n_lap = 400
    s_m = (np.arange(4 * n_lap) + 0.5) * 5.0 % 2000.0
    grades = np.where(s_m < 600.0, 0.05, np.where(s_m < 1200.0, -0.05, 0.0))
    features = []
    for lap in range(4):
        for kind, a, b, grade in (
            ("climb", 0.0, 600.0, 0.05),
            ("descent", 600.0, 1200.0, -0.05),
            ("flat", 1200.0, 2000.0, 0.0),
        ):  # fmt: skip
            features.append(
                Feature(
                    kind=kind, name=kind, start_m=2000.0 * lap + a, end_m=2000.0 * lap + b,
                    mean_grade=grade, max_grade=grade, ascent_m=max(grade, 0) * 600.0,
                    descent_m=max(-grade, 0) * 600.0, lap=lap + 1,
                )
            )  # fmt: skip
    return course_from_arrays(
        lengths_m=np.full(4 * n_lap, 5.0), grades=grades, features=features,
        lap_starts_m=np.arange(5) * 2000.0, is_closed=True,
    )  # fmt: skip


@pytest.fixture
def setups(hilly_setup, varied):
    light = varied(hilly_setup, rider=RESERVE, build={"name": "light", "cda_m2": 0.29})
    heavy = replace(
        light,
        build=replace(
            light.build, name="heavy", mass_kg=Uncertain(9.5), cda_m2=Uncertain(0.32, 0.008)
        ),
    )
    return [light, heavy]


def race(course, setups, power_w, rules=RULES, n_draws=0):
    reference = replace(
        setups[0],
        rider=replace(setups[0].rider, cp_w=None, wprime_j=None, max_power_w=None),
    )
    demand = constant_demand(course, reference.rider, power_w=power_w)
    return ride_bunch(
        course=course, setups=setups, reference=reference, demand=demand, rules=rules,
        n_draws=n_draws,
    )  # fmt: skip


def test_the_heavier_bike_needs_more_and_a_better_place_ties(hill_laps, setups):
    ridden = race(hill_laps, setups, 280.0)
    light, heavy = ridden.builds
    assert heavy.mean_w > light.mean_w + 3.0
    assert heavy.fourth_power_mean_w > heavy.mean_w
    assert heavy.work_j == pytest.approx(heavy.mean_w * heavy.following.node_times_s[-1])
    assert light.tie_place == pytest.approx(RULES.place, abs=1e-3)
    assert light.first_tie_place == pytest.approx(RULES.place, abs=1e-3)
    assert heavy.first_tie_place < RULES.place
    if heavy.tie_place is not None:
        assert heavy.tie_place > RULES.place


def test_shelter_lowers_the_power(hill_laps, setups):
    means_w = [
        race(hill_laps, setups[:1], 280.0, replace(RULES, place=place)).builds[0].mean_w
        for place in (1.0, 2.0, 4.0, 9.0)
    ]
    assert means_w == sorted(means_w, reverse=True)


def test_laps_add_up_and_surges_are_counted(hill_laps, setups):
    heavy = race(hill_laps, setups, 300.0).builds[1]
    assert len(heavy.laps) == 4
    assert sum(lap.time_s for lap in heavy.laps) == pytest.approx(heavy.following.node_times_s[-1])
    assert heavy.surges.count == 4  # one a climb
    assert heavy.surges.mean_over_w > 0.0
    over = np.maximum(heavy.following.needed_w - 250.0, 0.0)
    assert heavy.surges.work_over_j == pytest.approx(over @ np.diff(heavy.following.node_times_s))
    lows = [lap.low_j for lap in heavy.laps]
    assert min(lows) == pytest.approx(heavy.following.node_reserves_j.min())


def test_a_pace_too_hot_drops_the_worse_bike_more_often(hill_laps, setups):
    ridden = race(hill_laps, setups, 395.0, n_draws=300)
    light, heavy = ridden.builds
    assert heavy.chance_lost > 0.0
    assert light.chance_lost <= heavy.chance_lost
    again = race(hill_laps, setups, 395.0, n_draws=300)
    assert [b.chance_lost for b in again.builds] == [b.chance_lost for b in ridden.builds]
    easy = race(hill_laps, setups, 150.0, n_draws=50)
    assert [b.chance_lost for b in easy.builds] == [0.0, 0.0]


def test_the_climb_s_limit_is_where_contact_breaks(hill_laps, setups):
    for power_w in (220.0, 420.0):
        for build in race(hill_laps, setups, power_w).builds:
            (climb,) = build.climbs
            assert climb.is_dropped == (climb.limit_mps < climb.bunch_mps)
            assert climb.limit_w_per_kg == pytest.approx(climb.limit_w / 72.0)
            assert climb.limit_w > RESERVE["cp_w"]
    light, heavy = (b.climbs[0] for b in race(hill_laps, setups, 250.0).builds)
    assert light.limit_mps > heavy.limit_mps


def test_a_break_holds_against_a_slow_bunch_only(hill_laps, setups):
    slow = race(hill_laps, setups, 180.0).builds[0]
    fast = race(hill_laps, setups, 300.0).builds[0]
    assert {b.laps_out for b in slow.breaks} == {1, 2, 3}
    assert all(b.lead_s > 0.0 for b in slow.breaks)
    shared = {b.laps_out for b in fast.breaks}
    lead = {b.laps_out: b.lead_s for b in fast.breaks}
    assert all(lead[n] < next(b.lead_s for b in slow.breaks if b.laps_out == n) for n in shared)
    # Power that can be held falls with the length of the break.
    powers_w = [b.power_w for b in sorted(slow.breaks, key=lambda b: b.laps_out)]
    assert powers_w == sorted(powers_w, reverse=True)


def test_more_left_sprints_faster(hill_laps, setups):
    fresh = race(hill_laps, setups[:1], 180.0).builds[0].sprint
    tired = race(hill_laps, setups[:1], 330.0).builds[0]
    assert fresh.mean_w > 300.0
    assert tired.sprint is None or tired.sprint.mean_w < fresh.mean_w


def test_a_cut_course_rides_like_the_whole(rolling_course, hilly_setup):
    course = rolling_course(800)
    ride = simulate(course=course, setup=hilly_setup)
    part = cut_course(course, 300, 800)
    alone = simulate(
        course=part, setup=hilly_setup, start_speed_mps=float(ride.node_speeds_mps[300])
    )
    assert alone.time_s == pytest.approx(ride.time_s - ride.node_times_s[300], abs=1e-6)


def test_without_critical_power_costs_are_told_all_the_same(hill_laps, hilly_setup):
    build = race(hill_laps, [hilly_setup], 250.0, n_draws=20).builds[0]
    assert build.mean_w > 0.0
    assert build.chance_lost is None
    assert build.climbs == ()
    assert build.sprint is None


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("places = [1, 2]\n", "both or neither"),
        ("places = [2, 3]\nfactors = [0.9, 0.8]\n", "the first is 1"),
        ("places = [1, 3]\nfactors = [0.8, 0.9]\n", "less shelter further back"),
        ("turn_s = 300\nturn_every_s = 100\n", "less than `turn_every_s`"),
        ("plaice = 3\n", "did you mean `place`"),
        ("place = 0\n", "from 1 to 200"),
    ],
)
def test_a_wrong_file_is_told(text, words, tmp_path):
    path = tmp_path / "bunch.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(InputError, match=words):
        load_bunch(path)


def test_every_key_stands_in_the_example():
    from simulator.bunch import BunchFile
    from simulator.starters import starter_path

    text = starter_path("configs/bunch.toml").read_text(encoding="utf-8")
    load_bunch(starter_path("configs/bunch.toml"))
    assert [key for key in BunchFile.model_fields if f"{key} = " not in text] == []


def test_the_rider_s_own_doubt_and_gusts_enter_the_chance(hill_laps, setups):
    # A pace held with a few watts to spare: what is known exactly is never lost.
    sure = [
        replace(setup, build=replace(setup.build, cda_m2=Uncertain(setup.build.cda_m2.value)))
        for setup in setups
    ]
    rules = replace(RULES, form_sd=0.0)

    def chances(weather=None, **rider):
        drawn = [
            replace(
                s,
                rider=replace(s.rider, **rider),
                weather=replace(s.weather, **(weather or {})),
            )
            for s in sure
        ]
        return [b.chance_lost for b in race(hill_laps, drawn, 372.0, rules, n_draws=400).builds]

    assert chances() == [0.0, 0.0]
    assert chances(cp_sd_w=15.0)[1] > 0.0
    assert chances(wprime_sd_j=6000.0)[1] > 0.0
    windy = {"wind_mps": Uncertain(5.0), "wind_from_deg": Uncertain(0.0)}
    calm = chances(weather=windy)
    gusty = chances(weather={**windy, "gust_mps": 25.0})
    assert calm[1] in (0.0, 1.0)
    assert gusty != calm


def test_a_break_late_in_the_race_meets_the_wind_of_its_hour(hill_laps, setups):
    from simulator.setup import WindAt

    def lead_s(winds):
        weather = replace(setups[0].weather, wind_mps=Uncertain(0.0), winds=winds)
        windy = [replace(setups[0], weather=weather)]
        return race(hill_laps, windy, 200.0).builds[0].breaks[0].lead_s

    late = (
        WindAt(time_s=0.0, wind_mps=0.0, wind_from_deg=0.0),
        WindAt(time_s=750.0, wind_mps=0.0, wind_from_deg=0.0),
        WindAt(time_s=800.0, wind_mps=6.0, wind_from_deg=0.0),
    )
    # It comes up only in the last minutes: a break whose clock began at zero would never meet it.
    never = (
        WindAt(time_s=0.0, wind_mps=0.0, wind_from_deg=0.0),
        WindAt(time_s=1.0e5, wind_mps=0.0, wind_from_deg=0.0),
    )
    assert lead_s(late) != pytest.approx(lead_s(never), abs=0.5)


def test_contact_is_lost_with_w_left_where_the_wheel_takes_more_than_it_allows(hill_laps, setups):
    ridden = race(hill_laps, setups, 420.0)
    lost = [build for build in ridden.builds if build.loss is not None]
    assert lost
    assert {id(b) for b in lost} == {
        id(b) for b in ridden.builds if b.following.lost_at_m is not None
    }
    for build in lost:
        loss, following = build.loss, build.following
        assert loss.at_m == following.lost_at_m >= loss.from_m
        assert loss.needed_w > loss.given_w
        # All that W' allows there, between what it is at the loss and where the gap opened.
        rehearsal = open_rehearsal(course=hill_laps, setup=build.setup)
        nodes_m = hill_laps.node_distances_m
        there = (nodes_m >= loss.from_m) & (nodes_m <= loss.at_m)
        most_w = capacity_w(rehearsal, following.node_reserves_j[there])
        assert most_w.min() - 1.0 <= loss.given_w <= most_w.max() + 1.0
        assert 0.0 < loss.reserve_j < RESERVE["wprime_j"]
    name = lost[0].setup.build.name
    said = next(text for text in make_bunch_view(ridden).more if "loses contact at" in text)
    assert f"{name} loses contact at" in said
    assert f"with {lost[0].loss.reserve_j / 1000.0:.1f} kJ of W′ left" in said
    assert f"no more than {lost[0].loss.given_w:.0f} W" in said


def test_who_holds_the_wheel_has_lost_nothing(hill_laps, setups):
    assert [build.loss for build in race(hill_laps, setups, 200.0).builds] == [None, None]


@pytest.mark.parametrize("cp_w", [250.0, 900.0])
def test_surges_are_spoken_of_only_where_some_are_counted(cp_w, even_course, setups, varied):
    rider = {**RESERVE, "cp_w": cp_w, "max_power_w": 1200.0}
    strong = [varied(setup, rider=rider) for setup in setups]
    ridden = race(even_course(3000.0, 0.0), strong, 500.0)
    assert not ridden.bands
    n_surges = sum(build.surges.count for build in ridden.builds)
    told = " ".join(note.text for note in make_bunch_view(ridden).notes)
    assert "no corner slows the bunch" in told
    assert ("The surges that are counted" in told) is (n_surges > 0)
    assert (n_surges > 0) is (cp_w < 300.0)


def test_the_power_asked_for_stands_beside_the_mean_it_came_to(hill_laps, even_course, setups):
    coasting = [replace(s, rider=replace(s.rider, coast_grade=-0.03)) for s in setups]
    ridden = race(hill_laps, coasting, 310.0)
    mean_w = float(ridden.bunch.source.split("mean of ")[1].split(" W")[0])
    assert "at 310 W, with coasting a mean of" in ridden.bunch.source
    assert 100.0 < mean_w < 300.0
    steady = race(even_course(2000.0, 0.0), setups, 310.0)
    assert steady.bunch.source.endswith("at 310 W")
    own = replace(setups[0], rider=replace(setups[0].rider, cp_w=None, wprime_j=None))
    demand = constant_demand(hill_laps, own.rider, power_w=310.0)
    uneven = replace(demand, powers_w=np.where(hill_laps.grades > 0.0, 400.0, 250.0))
    by_rules = ride_bunch(
        course=hill_laps, setups=setups, reference=own, demand=uneven, rules=RULES, n_draws=0
    )
    assert "310" not in by_rules.bunch.source

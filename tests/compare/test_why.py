"""Why: the split over causes, against textbook definitions and direct re-rides."""

from dataclasses import fields, replace
from itertools import permutations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from simulator.compare import explain
from simulator.compare.why import cause_text, shapley_weights, split_over_causes
from simulator.measures import IMPERIAL
from simulator.ride import simulate
from simulator.setup import (
    CAUSE_OF_FIELD,
    CAUSES,
    LABEL_FIELDS,
    Build,
    RideSetup,
    Uncertain,
    differing_causes,
    mix_builds,
)

ROUNDING = 1e-9


def split_in_every_order(values, n):
    """The definition: the effect of joining, averaged over all n! orders (Shapley 1953)."""
    parts = np.zeros(n)
    orders = list(permutations(range(n)))
    for order in orders:
        inside = 0
        for i in order:
            parts[i] += values[inside | 1 << i] - values[inside]
            inside |= 1 << i
    return parts / len(orders)


@settings(max_examples=40, derandomize=True, deadline=None)
@given(st.integers(1, 5), st.integers(0, 2**32 - 1))
def test_split_is_the_mean_over_all_orders(n, seed):
    values = np.random.default_rng(seed).normal(size=2**n)
    parts = split_over_causes(values, n)
    assert parts == pytest.approx(split_in_every_order(values, n), abs=1e-12)
    assert parts.sum() == pytest.approx(values[-1] - values[0], abs=1e-12)


def test_split_of_the_glove_game():
    # Shapley's textbook example: one left glove (0), two right gloves (1, 2); a pair is worth 1.
    # Value 2/3 for the scarce one, 1/6 for each other (e.g. Peters 2008, Game Theory, ch. 17).
    values = np.array([1.0 if s & 1 and s & 6 else 0.0 for s in range(8)])
    assert split_over_causes(values, 3) == pytest.approx([2 / 3, 1 / 6, 1 / 6], abs=1e-15)


def test_weights_sum_to_one_over_all_sets_without_a_cause():
    from math import comb

    for n in range(1, 9):
        weights = shapley_weights(n)
        assert sum(comb(n - 1, s) * weights[s] for s in range(n)) == pytest.approx(1.0)


@pytest.fixture(scope="module")
def explained(hill_course, setups):
    return explain(course=hill_course, first=setups[0], other=setups[1], n_draws=0)


def test_causes_and_matrix_sum_to_the_gap(explained):
    total_s = explained.gap.total_s
    assert sum(c.gap_s for c in explained.causes) == pytest.approx(total_s, abs=ROUNDING)
    assert explained.matrix_s.sum() == pytest.approx(total_s, abs=ROUNDING)
    by_cause = [c.gap_s for c in explained.causes]
    assert explained.matrix_s.sum(axis=0) == pytest.approx(by_cause, abs=ROUNDING)
    by_stretch = [s.gap_s for s in explained.stretches]
    assert explained.matrix_s.sum(axis=1) == pytest.approx(by_stretch, abs=ROUNDING)
    # Skill and caution are equal; `test_caution.py` has what happens when they are not.
    assert {c.cause for c in explained.causes} == set(CAUSES) - {"caution"}
    sizes = [abs(c.gap_s) for c in explained.causes]
    assert sizes == sorted(sizes, reverse=True)


def test_two_causes_by_hand(hill_course, setups):
    # With two causes the split is half the sum of "alone" and "last": ride the four mixes.
    first, other = setups
    rider, weather = first.rider, first.weather

    def time_s(*causes):
        build = mix_builds(first.build, other.build, frozenset(causes))
        return simulate(
            course=hill_course, setup=RideSetup(rider=rider, build=build, weather=weather)
        ).time_s

    both = RideSetup(
        rider=rider,
        build=mix_builds(first.build, other.build, frozenset({"mass", "air"})),
        weather=weather,
    )
    told = {
        c.cause: c.gap_s
        for c in explain(course=hill_course, first=first, other=both, n_draws=0).causes
    }
    mass_s = 0.5 * ((time_s("mass") - time_s()) + (time_s("mass", "air") - time_s("air")))
    air_s = 0.5 * ((time_s("air") - time_s()) + (time_s("mass", "air") - time_s("mass")))
    assert told == {
        "mass": pytest.approx(mass_s, abs=ROUNDING),
        "air": pytest.approx(air_s, abs=ROUNDING),
    }


def test_mass_costs_on_the_climb_and_air_costs_most_off_it(explained):
    columns = {c.cause: i for i, c in enumerate(explained.causes)}
    climb, descent = explained.matrix_s[:2]
    assert climb[columns["mass"]] > 1.0
    assert descent[columns["mass"]] < 0.0  # the heavier bike gains downhill
    # Drag per metre of the road matters more on the flat than on a 5 % climb.
    per_m = explained.matrix_s[:, columns["air"]] / np.array([2000.0, 2001.7, 1998.3])
    assert per_m[2] > per_m[0] > 0.0


def told_apart(first, **changes):
    """Words of the one cause in which two builds differ, for both."""
    other = replace(first, **changes)
    (cause,) = differing_causes(first, other)
    return cause_text(first, cause, other), cause_text(other, cause, first)


def test_words_of_a_cause_differ_where_the_builds_do(plover):
    for changes in (
        {"wheel_drag_area_m2": Uncertain(0.009)},
        {"yaw_degs": (0.0, 15.0), "cda_factors": (1.0, 0.9)},
        {"yaw_degs": (0.0,), "cda_factors": (1.0,)},
        {"wheel_radius_m": 0.31},
        {"sprockets": (11, 12, 13, 17, 24, 27, 30)},
        {"sprockets": (11, 14, 18, 25, 30)},
    ):
        one, two = told_apart(plover, **changes)
        assert one != two, changes
    # Once the main figure differs it is enough.
    one, two = told_apart(plover, cda_m2=Uncertain(0.3), wheel_drag_area_m2=Uncertain(0.009))
    assert (one, two) == ("CdA 0.3150 m²", "CdA 0.3000 m²")
    turn = told_apart(plover, wheel_radius_m=0.31)[1]
    assert (turn, IMPERIAL.said(turn)) == ("1.948 m a turn", "6.39 ft a turn")


def test_a_doubt_alone_is_no_cause(hill_course, setups):
    first = setups[0]
    other = replace(first, build=replace(first.build, crr=Uncertain(first.build.crr.value, 0.001)))
    told = explain(course=hill_course, first=first, other=other, n_draws=0)
    assert told.gap.total_s == 0.0
    assert told.causes == ()


def test_every_cause_has_words_and_every_field_one_cause(plover):
    for cause in CAUSES:
        # Without a level of its own a build is ridden as the rider rides: no figure to tell.
        told = cause_text(plover, cause)
        assert any(ch.isdigit() for ch in told) or told == "as the rider"
    named = {f.name for f in fields(Build)}
    assert named == set(CAUSE_OF_FIELD) | set(LABEL_FIELDS)
    assert not set(CAUSE_OF_FIELD) & set(LABEL_FIELDS)

"""Climbs, descents and flats; ascent; steepest places."""

from itertools import pairwise, product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from simulator.course.features import find_features, steepest_grade, steepest_place
from simulator.course.quality import ascent_and_descent_m, profile_findings


def profile(pieces, step_m=5.0):
    """Pieces are (length in m, grade). Returns horizontal distances and heights."""
    grades = np.concatenate([np.full(round(length / step_m), grade) for length, grade in pieces])
    runs = np.arange(len(grades) + 1) * step_m
    return runs, 100.0 + np.concatenate(([0.0], np.cumsum(grades * step_m)))


def test_one_hill():
    runs, heights = profile([(1000, 0.0), (2000, 0.06), (500, 0.0), (1500, -0.07), (800, 0.0)])
    features = find_features(runs, runs, heights)
    assert [feature.kind for feature in features] == ["flat", "climb", "flat", "descent", "flat"]
    starts = [feature.start_m for feature in features]
    np.testing.assert_allclose(starts, [0, 1000, 3000, 3500, 5000], atol=25.0)
    climb = features[1]
    assert climb.mean_grade == pytest.approx(0.06, abs=0.001)
    assert climb.max_grade == pytest.approx(0.06, abs=1e-6)
    assert climb.ascent_m == pytest.approx(120.0, abs=0.5)
    assert features[3].max_grade == pytest.approx(-0.07, abs=1e-6)


def test_ripples_make_no_hills():
    runs = np.arange(0.0, 5000.0, 5.0)
    heights = 50.0 + 1.5 * np.sin(runs / 40.0)  # grades up to 3.7 %, 3 m high
    assert [feature.kind for feature in find_features(runs, runs, heights)] == ["flat"]


def test_a_short_dip_does_not_cut_a_climb():
    runs, heights = profile([(1500, 0.06), (60, -0.01), (1500, 0.06)])
    assert [feature.kind for feature in find_features(runs, runs, heights)] == ["climb"]
    runs, heights = profile([(1500, 0.06), (800, -0.04), (1500, 0.06)])
    assert [f.kind for f in find_features(runs, runs, heights)] == ["climb", "descent", "climb"]


@given(
    st.lists(
        st.tuples(st.integers(20, 800), st.floats(-0.15, 0.15)),
        min_size=1,
        max_size=25,
    )
)
@settings(max_examples=60, deadline=None)
def test_features_cover_the_course_without_gap(pieces):
    runs, heights = profile([(5.0 * round(length / 5.0) or 5.0, g) for length, g in pieces])
    features = find_features(runs, runs, heights, lap=3)
    assert features[0].start_m == runs[0]
    assert features[-1].end_m == runs[-1]
    for one, other in pairwise(features):
        assert one.end_m == other.start_m
        assert one.kind != other.kind
    rise = sum(feature.ascent_m - feature.descent_m for feature in features)
    assert rise == pytest.approx(heights[-1] - heights[0], abs=1e-6)
    assert {feature.lap for feature in features} == {3}


def brute_score(kinds, heights, runs, cost=4.0, grade=0.02):
    rises, steps = np.diff(heights), np.diff(runs)
    gain = {"flat": 0 * rises, "climb": rises - grade * steps, "descent": -rises - grade * steps}
    score = sum(gain[kind][k] for k, kind in enumerate(kinds))
    return score - cost * sum(a != b for a, b in pairwise(kinds))


def test_the_cutting_is_the_best_of_all_cuttings():
    """Against trying all cuttings of a road of seven cells of 25 m."""
    rng = np.random.default_rng(4)
    runs = np.arange(8) * 25.0
    for _ in range(6):
        heights = np.concatenate(([0.0], np.cumsum(rng.normal(0.0, 6.0, 7))))
        best = max(
            brute_score(kinds, heights, runs)
            for kinds in product(("flat", "climb", "descent"), repeat=7)
        )
        features = find_features(runs, runs, heights)
        kinds = [
            next(f.kind for f in features if f.start_m <= middle < f.end_m)
            for middle in 0.5 * (runs[:-1] + runs[1:])
        ]
        assert brute_score(kinds, heights, runs) == pytest.approx(best)


def test_steepest_place():
    runs, heights = profile([(500, 0.02), (60, 0.12), (500, 0.02), (100, -0.2), (300, 0.0)])
    grade, place = steepest_place(runs, heights, 50.0)
    assert grade == pytest.approx(0.12)
    assert 500.0 <= place <= 510.0
    assert steepest_grade(runs, heights, 200.0, sign=-1.0) == pytest.approx(-0.1)
    assert steepest_grade(runs, heights, 1e6) == pytest.approx(
        (heights[-1] - heights[0]) / runs[-1]
    )


@pytest.mark.parametrize(
    ("heights", "threshold", "expected"),
    [
        ([0, 10, 0], 2.0, (10.0, 10.0)),
        ([0, 10, 9, 20], 2.0, (20.0, 0.0)),
        ([0, 10, 7, 20], 2.0, (23.0, 3.0)),
        ([0, 1, 0, 1, 0], 2.0, (0.0, 0.0)),
        ([5, 5, 5], 2.0, (0.0, 0.0)),
        ([0, -10, 3], 0.0, (13.0, 10.0)),
    ],
)
def test_ascent_counts_what_reaches_the_threshold(heights, threshold, expected):
    assert ascent_and_descent_m(np.array(heights, dtype=float), threshold) == pytest.approx(
        expected
    )


@given(st.lists(st.floats(-100, 100), min_size=2, max_size=60), st.floats(0.0, 5.0))
@settings(max_examples=80, deadline=None)
def test_ascent_laws(values, threshold):
    heights = np.array(values)
    up, down = ascent_and_descent_m(heights, threshold)
    assert up - down == pytest.approx(heights[-1] - heights[0], abs=1e-9)
    rises = np.diff(heights)
    assert up <= rises[rises > 0].sum() + 1e-9
    back_up, back_down = ascent_and_descent_m(-heights, threshold)
    assert (back_up, back_down) == pytest.approx((down, up), abs=1e-9)


def test_walls_are_told():
    runs, heights = profile([(500, 0.02), (60, 0.30), (500, 0.0)])
    (finding,) = profile_findings(runs, runs, heights)
    assert "rises at 30 %" in finding.text
    assert finding.distance_m == pytest.approx(500.0, abs=10.0)

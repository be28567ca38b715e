import json
from dataclasses import asdict, fields, replace

import numpy as np
import pytest

from simulator.compare import measure_gap
from simulator.compare.where import stretch_between
from simulator.report import make_gap_view, words
from simulator.report.inputs_view import _LABELS
from simulator.report.places_view import merge_laps, share_of, wind_rows, worst_stretch
from simulator.setup import Build, Positions, Rider, Weather

MICROSECOND = 1e-6


def test_places_and_causes_add_up_to_the_gap(hilly, lapped, plain):
    for comparison in (hilly, lapped, plain):
        view = make_gap_view(comparison)
        total = comparison.gap.total_s
        assert view.gap_s == total
        assert sum(row.gap_s for row in view.places) == pytest.approx(total, abs=MICROSECOND)
        assert sum(row.gap_s for row in view.causes) == pytest.approx(total, abs=MICROSECOND)
        matrix = np.array(view.matrix.gaps_s)
        assert matrix.sum(axis=1) == pytest.approx(view.matrix.place_totals_s, abs=MICROSECOND)
        assert matrix.sum(axis=0) == pytest.approx(view.matrix.cause_totals_s, abs=MICROSECOND)


def test_gap_is_other_minus_first_on_every_row(hilly):
    view = make_gap_view(hilly)
    for row in (*view.places, *view.corners):
        assert row.gap_s == pytest.approx(row.other_s - row.first_s, abs=MICROSECOND)
        assert row.gap_per_km_s == pytest.approx(1000.0 * row.gap_s / row.length_m)


def test_the_same_place_on_all_laps_is_one_row(lapped):
    view = make_gap_view(lapped)
    course = lapped.gap.first.course
    assert [row.n_laps for row in view.corners] == [course.n_laps] * 6
    assert len(view.laps) == course.n_laps
    assert sum(row.gap_s for row in view.laps) == pytest.approx(view.gap_s, abs=MICROSECOND)
    by_name = sum(c.gap_s for c in lapped.corners if c.name == "Corner 3")
    assert view.corners[2].gap_s == pytest.approx(by_name, abs=MICROSECOND)


def test_a_corner_that_limits_on_some_laps_only_keeps_its_own_row(lapped):
    kept = tuple(c for c in lapped.corners if not (c.lap == 1 and c.name == "Corner 1"))
    view = make_gap_view(replace(lapped, corners=kept))
    assert [row.name for row in view.corners] == [f"Corner {i}" for i in range(1, 7)]
    assert [row.n_laps for row in view.corners] == [5, 6, 6, 6, 6, 6]


def test_metres_at_the_line_are_those_left_to_ride(hilly):
    view = make_gap_view(hilly)
    first, other = hilly.gap.first, hilly.gap.other
    reached = first.course.distance_m - view.metres_at_line
    assert other.time_at_s(reached) == pytest.approx(first.time_s, abs=0.01)
    turned = replace(hilly, gap=measure_gap(other, first))
    assert make_gap_view(turned).metres_at_line == pytest.approx(-view.metres_at_line)


def test_the_dearest_kilometre_is_the_dearest(hilly):
    view = make_gap_view(hilly)
    found = next(text for text in view.more if "dearest kilometre" in text)
    gap = hilly.gap
    starts = np.arange(0.0, gap.first.course.distance_m - 1000.0, 100.0)
    lost = [gap.between_s(start, start + 1000.0) for start in starts]
    best = starts[int(np.argmax(lost))]
    assert f"km {best / 1000.0:.1f}: {words.seconds(max(lost))}" in found


def test_a_short_course_has_no_dearest_kilometre(plain):
    assert not any("kilometre" in text for text in make_gap_view(plain).more)


def test_thinning_keeps_the_ends_and_the_slowest_points(made):
    course = made.hilly_course(length_m=60_000.0)
    comparison = made.made_comparison(course)
    series = make_gap_view(comparison).series
    ride = comparison.gap.first
    assert len(series.distances_m) < 1800 < course.n_segments
    assert series.distances_m[0] == 0.0
    assert series.distances_m[-1] == pytest.approx(course.distance_m)
    assert series.gaps_s[-1] == pytest.approx(comparison.gap.total_s, abs=0.001)
    assert min(series.first_mps) == pytest.approx(ride.node_speeds_mps.min(), abs=0.001)
    assert max(series.first_mps) == pytest.approx(ride.node_speeds_mps.max(), abs=0.001)
    # No corner gets lost: a point as slow as its slowest stays near by.
    for corner in course.corners:
        at_m = course.node_distances_m
        inside = (at_m >= corner.start_m) & (at_m <= corner.end_m)
        kept = np.abs(np.array(series.distances_m) - corner.apex_m) < 150.0
        slowest = ride.node_speeds_mps[inside].min()
        assert np.array(series.first_mps)[kept].min() <= slowest + 0.001


def test_the_plan_shares_the_gap_out_over_one_lap(lapped):
    view = make_gap_view(lapped)
    km_per_leg = view.course.distance_m / len(view.plan.rates_s_per_km) / 1000.0
    assert sum(view.plan.rates_s_per_km) * km_per_leg == pytest.approx(view.gap_s, abs=0.05)
    ends = np.hypot(
        view.plan.easts_m[0] - view.plan.easts_m[-1], view.plan.norths_m[0] - view.plan.norths_m[-1]
    )
    assert ends < 1.0


def test_the_view_is_json_as_it_stands(hilly, lapped, plain):
    for comparison in (hilly, lapped, plain):
        json.dumps(asdict(make_gap_view(comparison)), allow_nan=False)


def test_shares_of_a_tie_mean_nothing(made):
    view = make_gap_view(made.made_comparison(first=made.PLOVER, other=made.PLOVER, sd_s=None))
    assert "tie" in view.sentence
    assert not view.share_is_meant
    assert {row.share for row in view.places} == {None}
    assert share_of(1.0, 0.04) is None


def test_the_caution_stands_with_every_speed(hilly, plain):
    for comparison in (hilly, plain):
        assert words.CAUTION in [note.text for note in make_gap_view(comparison).notes]
    assert words.NO_DRAWS_MADE in [note.text for note in make_gap_view(plain).notes]


def test_draws_that_stop_are_not_counted_among_those_won(hilly):
    doubt = replace(hilly.doubt, gaps_s=hilly.doubt.gaps_s[:1900], n_stopped=100)
    view = make_gap_view(replace(hilly, doubt=doubt))
    (told,) = [text for text in view.more if "paired draws" in text]
    assert "of 1,900 paired draws" in told


def test_the_dearest_kilometre_may_be_the_last_one(made):
    comparison = made.made_comparison()
    at_m = comparison.gap.first.course.node_distances_m
    # All that is lost is lost on the last 40 m.
    lost_s = np.clip(at_m - (at_m[-1] - 40.0), 0.0, None) * 0.5
    start_m, worst_s = worst_stretch(
        replace(comparison, gap=replace(comparison.gap, node_gaps_s=lost_s)), 1037.0
    )
    assert worst_s == pytest.approx(20.0)
    assert start_m + 1037.0 == pytest.approx(at_m[-1])


def test_flats_by_a_wind_that_turns_from_lap_to_lap_are_told_where_they_lie(lapped):
    gap, course = lapped.gap, lapped.gap.first.course
    starts_m = course.lap_starts_m

    def piece(lap, kind, start_m, end_m):
        start_m, end_m = starts_m[lap - 1] + start_m, starts_m[lap - 1] + end_m
        return stretch_between(
            gap, kind=kind, name=f"Flat 1, {kind}", start_m=start_m, end_m=end_m, lap=lap
        )

    steady = [
        piece(lap, kind, *span)
        for lap in range(1, course.n_laps + 1)
        for kind, span in (("headwind", (0.0, 400.0)), ("tailwind", (400.0, 900.0)))
    ]
    rows, is_shifting = wind_rows(steady, course=course, total_s=gap.total_s)
    assert not is_shifting
    assert [(row.start_m, row.end_m) for row in rows] == [(0.0, 400.0), (400.0, 900.0)]

    # On the last lap the wind has turned about.
    turned = [
        *steady[:-2],
        piece(course.n_laps, "tailwind", 0.0, 300.0),
        piece(course.n_laps, "headwind", 300.0, 900.0),
    ]
    rows, is_shifting = wind_rows(turned, course=course, total_s=gap.total_s)
    assert is_shifting
    assert [(row.kind, row.start_m, row.end_m) for row in rows] == [
        ("headwind", 0.0, pytest.approx(900.0)),
        ("tailwind", 0.0, pytest.approx(900.0)),
    ]
    for row in rows:
        parts = [part for part in turned if part.kind == row.kind]
        assert row.gap_s == pytest.approx(sum(part.gap_s for part in parts))
        ridden_m = sum(part.end_m - part.start_m for part in parts)
        assert row.length_m * course.n_laps == pytest.approx(ridden_m)


def test_a_stretch_missing_from_the_first_lap_shifts_no_other(lapped):
    # A recording may begin behind the first stretches of its first lap.
    gap, course = lapped.gap, lapped.gap.first.course
    feature = course.features[0]
    features = tuple(
        replace(feature, kind=kind, start_m=from_m + a, end_m=from_m + b, lap=lap)
        for lap, from_m in enumerate(course.lap_starts_m[:-1].tolist(), start=1)
        for kind, a, b in (("flat", 0.0, 500.0), ("climb", 500.0, 800.0), ("flat", 800.0, 1400.0))
    )
    late = [
        stretch_between(gap, kind=f.kind, name=f.name, start_m=f.start_m, end_m=f.end_m, lap=f.lap)
        for f in features[1:]
    ]
    rows, members = merge_laps(late, course=replace(course, features=features), total_s=gap.total_s)
    assert sorted(row.n_laps for row in rows) == [course.n_laps - 1, course.n_laps, course.n_laps]
    for group in members:
        in_lap_m = [late[i].start_m - course.lap_starts_m[late[i].lap - 1] for i in group]
        assert np.ptp(in_lap_m) < 1.0


def test_a_gap_within_its_doubt_is_told_as_none(made):
    view = make_gap_view(made.made_comparison(sd_s=200.0))
    assert "no difference that these figures can tell" in view.sentence
    assert not view.doubt.is_told_apart


def test_findings_about_the_course_are_notes(hilly):
    notes = make_gap_view(hilly).notes
    assert any(n.level == "doubt" and n.text.startswith("Km 3.4: heights") for n in notes)


def test_all_flat_with_corners_names_the_corners(lapped):
    assert make_gap_view(lapped).sentence.endswith("of it in the corners.")


def test_one_climb_alone_needs_no_where(plain):
    assert "of it" not in make_gap_view(plain).sentence


def test_every_input_is_listed_and_what_differs_is_marked(hilly):
    rows = make_gap_view(hilly).inputs
    builds = {row.label: row for row in rows if row.group == "Builds"}
    assert builds["Mass, kg"].first_text == "7.1 ± 0.05"
    assert builds["Mass, kg"].other_text == "8.9 ± 0.05"
    assert builds["Mass, kg"].is_different
    assert not builds["Grip of the tyres on a wet road"].is_different
    rider = [row for row in rows if row.group.startswith("Rider")]
    assert all(row.other_text is None for row in rider)
    assert any(row.label == "Critical power, W" for row in rider)
    assert any(row.label == "Drag in the tuck, relative" for row in rider)


def test_every_field_of_a_setup_has_words_of_its_own():
    for kind in (Build, Rider, Positions, Weather):
        names = {field.name for field in fields(kind)} - {"name", "positions"}
        assert names - set(_LABELS) == set(), kind.__name__


def test_doubtful_inputs_are_named_in_words(hilly):
    names = [row.name for row in make_gap_view(hilly).doubt.shares]
    assert names[0] == "Plover: rolling coefficient Crr"
    assert "Wind at 10 m" in names

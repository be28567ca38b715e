"""Skill and caution are equal between builds, unless a build's file says otherwise."""

from dataclasses import replace

import pytest

from simulator.compare import explain
from simulator.report.inputs_view import caution_sentence
from simulator.setup import RideSetup
from simulator.setup.defaults import CAUTION_LEVELS


def ridden_as(rider, level):
    """The rider with all that a level of caution sets."""
    figures = CAUTION_LEVELS[level]
    return replace(
        rider,
        caution=level,
        lean_deg=figures.lean_deg,
        pedal_lean_deg=figures.pedal_lean_deg,
        braking_g=figures.braking_g,
    )


@pytest.fixture(scope="module")
def careful(setups):
    first = setups[0]
    return replace(first, rider=ridden_as(first.rider, "careful"))


def pair(setup, level):
    other = replace(setup.build, name="Ridden apart", caution=level)
    return RideSetup(rider=setup.rider, build=other, weather=setup.weather)


def test_a_bolder_ride_gains_in_the_bends_only(hill_course, careful):
    told = explain(course=hill_course, first=careful, other=pair(careful, "bold"), n_draws=0)
    assert [cause.cause for cause in told.causes] == ["caution"]
    assert told.gap.total_s < -0.5
    # Nothing differs before the first braking, and a corner lies on the descent and the flat each.
    by_kind = {stretch.kind: stretch.gap_s for stretch in told.stretches}
    assert by_kind["climb"] == pytest.approx(0.0, abs=0.2)
    assert sum(corner.gap_s for corner in told.corners) == pytest.approx(told.gap.total_s, rel=0.3)


def test_the_level_of_the_rider_written_on_the_build_changes_nothing(hill_course, careful):
    told = explain(course=hill_course, first=careful, other=pair(careful, "careful"), n_draws=0)
    assert told.gap.total_s == 0.0


def test_a_level_on_the_build_rides_as_a_rider_of_that_level(hill_course, careful):
    apart = explain(course=hill_course, first=careful, other=pair(careful, "bold"), n_draws=0)
    bold = replace(careful, rider=ridden_as(careful.rider, "bold"))
    both = explain(course=hill_course, first=bold, other=bold, n_draws=0)
    assert apart.gap.other.time_s == pytest.approx(both.gap.first.time_s, abs=1e-9)


def test_the_page_says_whether_skill_is_equal(careful):
    equal = caution_sentence(careful.rider, (careful.build,))
    assert "the same on every build (“careful”: leaning up to 20°" in equal
    apart = caution_sentence(careful.rider, (careful.build, pair(careful, "bold").build))
    assert "the same" not in apart
    assert "“bold” on Ridden apart, as its file asks (leaning up to 35°" in apart

"""One plan for each weather; the first one's plan ridden in the others."""

from dataclasses import replace

import pytest

from simulator.errors import CannotFinish
from simulator.powerplan import plan_days
from simulator.setup import Uncertain

RESERVE = {"cp_w": 260.0, "wprime_j": 15_000.0, "max_power_w": 850.0}


@pytest.fixture
def racer(hilly_setup, varied):
    return varied(hilly_setup, rider=RESERVE)


def windy(weather, wind_mps, name):
    return replace(weather, name=name, wind_mps=Uncertain(wind_mps), wind_from_deg=Uncertain(0.0))


def test_days_are_slower_into_the_wind_and_own_plans_no_worse(racer, even_course):
    calm = windy(racer.weather, 0.0, "calm")
    days = plan_days(
        course=even_course(4000.0, 0.01),
        setup=racer,
        weathers=[calm, windy(calm, 4.0, "head wind"), replace(calm, name="calm again")],
        most_changes=3,
    )
    first, ahead, again = days
    assert ahead.plan.time_s > first.plan.time_s
    assert ahead.solution.time_s <= ahead.plan.time_s + 0.05
    assert again.first_plan_s == pytest.approx(first.plan.time_s, abs=1e-6)
    assert again.plan.time_s <= first.plan.time_s + 0.05
    assert again.first_plan_short_w <= 0.5
    # Ridden longer into the wind, the first day's plan asks for more than W′ has.
    assert ahead.first_plan_short_w > 0.5
    assert ahead.first_plan_s is not None


def test_a_weather_that_stops_the_rider_is_named(racer, even_course, varied):
    weak = varied(racer, rider={"cp_w": 150.0})
    calm = windy(weak.weather, 0.0, "calm")
    with pytest.raises(CannotFinish, match="In the weather gale"):
        plan_days(
            course=even_course(500.0, 0.05),
            setup=varied(weak, rider={"cadence_low_rpm": 60.0}),
            weathers=[calm, windy(calm, 33.0, "gale")],
            most_changes=1,
        )

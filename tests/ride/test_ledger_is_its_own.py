"""What a ride was computed from is told in arrays of its own."""

from simulator.pacing import constant_demand
from simulator.ride import ledger_of, simulate


def test_writing_into_a_ledger_changes_no_later_ride(hilly_setup, rolling_course):
    course = rolling_course(40)
    ride = simulate(course=course, setup=hilly_setup)
    ledger = ledger_of(ride, constant_demand(course, hilly_setup.rider))
    ledger.steps["crr_factor"][:] = 9.0
    assert simulate(course=course, setup=hilly_setup).time_s == ride.time_s

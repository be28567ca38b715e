"""Small facts of the plan room that mutants of its code got past before."""

import numpy as np
import pytest

from simulator.course import Feature, course_from_arrays
from simulator.powerplan import make_problem, simplify, solve


def feature(kind, start_m, end_m, grade):
    rise_m = grade * (end_m - start_m)
    return Feature(
        kind=kind, name=f"the {kind}", start_m=start_m, end_m=end_m, mean_grade=grade,
        max_grade=grade, ascent_m=max(rise_m, 0.0), descent_m=max(-rise_m, 0.0), lap=1,
    )  # fmt: skip


@pytest.fixture(scope="module")
def racer(hilly_setup, varied):
    return varied(hilly_setup, rider={"cp_w": 260.0, "wprime_j": 15_000.0, "max_power_w": 850.0})


@pytest.fixture(scope="module")
def up_and_over():
    """Two kilometres up at 4 %, two down, two flat."""
    grades = np.repeat([0.04, -0.04, 0.0], 400)
    features = (
        feature("climb", 0.0, 2000.0, 0.04),
        feature("descent", 2000.0, 4000.0, -0.04),
        feature("flat", 4000.0, 6000.0, 0.0),
    )
    return course_from_arrays(lengths_m=np.full(1200, 5.0), grades=grades, features=features)


def test_stretches_bear_the_name_of_the_road_they_lie_on(up_and_over, racer):
    plan = simplify(solve(make_problem(course=up_and_over, setup=racer)), most_changes=4)
    assert len(plan.stretches) > 2
    for stretch in plan.stretches:
        middle_m = 0.5 * (stretch.start_m + stretch.end_m)
        # A road that holds more than half of a stretch holds its middle.
        (here,) = [f for f in up_and_over.features if f.start_m <= middle_m < f.end_m]
        assert stretch.place in (here.name, "")
    assert "the climb" in [stretch.place for stretch in plan.stretches]


def test_whole_watts_stay_below_a_limit_with_a_fraction(up_and_over, racer):
    """A limit of 330.6 W leaves 330 W to ride by, not 331."""
    problem = make_problem(course=up_and_over, setup=racer, most_w=330.6)
    plan = simplify(solve(problem), most_changes=4)
    powers_w = [stretch.power_w for stretch in plan.stretches]
    assert powers_w == [round(power_w) for power_w in powers_w]
    assert max(powers_w) == 330.0

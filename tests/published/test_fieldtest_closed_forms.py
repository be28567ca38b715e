"""Field-test legs and fits against closed forms and an ordinary regression.

Closed forms 1, 3 and 5 with m 80, CdA 0.30, rho 1.2 (k 0.18), Crr 0.004, g 9.80665 (R 3.138128):
derived in double precision from the formula beside each. Nothing here uses our own forces.
"""

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.linalg import lstsq
from scipy.optimize import brentq

from simulator.course import course_from_arrays
from simulator.fieldtest.infer import fit_problem, make_problem
from simulator.fieldtest.legride import LegFigures, leg_prediction, leg_slopes
from simulator.fieldtest.legs import Leg, RunReading
from simulator.fieldtest.parameters import CDA_BEFORE, CRR_BEFORE
from simulator.fieldtest.roads import Road, cut_road, even_marks_m
from simulator.fieldtest.testday import Meter, TestDay, TestedBuild, TestRun, measured_rider
from simulator.fieldtest.testday_file import RunEntry
from simulator.setup import Uncertain

M, RHO, CDA, CRR, G = 80.0, 1.2, 0.30, 0.004, 9.80665
K, R = 0.5 * RHO * CDA, CRR * M * G
MILLISECOND_S = 0.001
HALF_A_METRE_M = 0.5


def coast_speed(v0, s, k=K, r=R):
    """v² = (v0² + R/k) exp(-2ks/m) - R/k."""
    return math.sqrt((v0**2 + r / k) * math.exp(-2.0 * k * s / M) - r / k)


def coast_time(v0, s, k=K, r=R):
    """t = m/sqrt(kR) (atan(v0 sqrt(k/R)) - atan(v sqrt(k/R)))."""
    root = math.sqrt(k / r)
    turn = math.atan(v0 * root) - math.atan(coast_speed(v0, s, k, r) * root)
    return M / math.sqrt(k * r) * turn


@pytest.fixture
def flat_day(plain_setup):
    """A day on the plain rider (80 kg in all, dry air of 1.2) and a flat road at height 0."""

    def make(**more):
        tested = TestedBuild(build=plain_setup.build)
        settings = {
            "name": "made", "file": "day.toml", "folder": None, "runs": (),
            "rider": measured_rider(plain_setup.rider, 1.0), "builds": (tested,),
            "meter": Meter(scale_sd=0.0, fitting_sd=0.0, zero_sd_w=0.0),
            "wind_sd_mps": 0.0, "scatter": 0.005, "mass_sd_kg": 0.0,
        } | more  # fmt: skip
        return TestDay(**settings)

    return make


@pytest.fixture
def make_leg(plain_setup):
    """``make_leg(day, kind, length_m, ...)``: a leg on a flat road."""

    def make(day, kind, length_m, *, power_w=0.0, start=None, n_marks=1, stop_m=None, number=1):
        course = course_from_arrays(lengths_m=np.full(round(length_m / 5.0), 5.0), grades=0.0)
        road = Road(name="flat", course=course, start_m=0.0, end_m=length_m)
        written = RunEntry(
            build="plain", kind=kind, road="flat", time_s=1.0, power_w=power_w,
            start_kmh=None if start is None else {"value": 3.6 * start.value, "sd": 0.0},
        )  # fmt: skip
        run = TestRun(
            number=number, written=written, build=day.builds[0], road=road,
            weather=plain_setup.weather, wind_group="w", fitting="f", zeroing="z",
        )  # fmt: skip
        marks_m = even_marks_m(length_m, every_m=length_m / n_marks, most=50)
        cut = cut_road(road, marks_m, run_up_m=400.0 if start is None else 0.0)
        return Leg(
            name=f"leg {number}", run=run, cut=cut,
            powers_w=np.full(cut.course.n_segments, power_w), times_s=np.ones(len(marks_m)),
            stop_m=stop_m, start=start, timing_sd_s=0.05, run_up_mps=10.0,
        )  # fmt: skip

    return make


def figures(**changes):
    plain = LegFigures(
        cda=CDA, crr=CRR, bike_kg=0.0, rider_kg=80.0, wind_east=0.0, wind_north=0.0, factor=1.0,
        zero=0.0, start=12.0,
    )  # fmt: skip
    return replace(plain, **changes)


def test_coasting_times_are_those_of_the_closed_form(flat_day, make_leg):
    day = flat_day()
    leg = make_leg(day, "coast", 400.0, start=Uncertain(12.0, 0.0), n_marks=8)
    expected = [coast_time(12.0, s) for s in np.arange(50.0, 401.0, 50.0)]
    assert leg_prediction(day, leg, figures()) == pytest.approx(expected, abs=MILLISECOND_S)
    # The value beside the formula: 104.544393 m after 10 s.
    assert coast_time(12.0, 104.544393) == pytest.approx(10.0, abs=1e-6)


def test_roll_to_a_stop_is_that_of_the_closed_form(flat_day, make_leg):
    """s = (m/2k) ln((R + k v0²)/R) = 494.593732 m from 12 m/s."""
    day = flat_day()
    leg = make_leg(day, "coast", 700.0, start=Uncertain(12.0, 0.0), stop_m=400.0)
    assert M / (2.0 * K) * math.log((R + K * 144.0) / R) == pytest.approx(494.593732, abs=1e-6)
    assert leg_prediction(day, leg, figures())[0] == pytest.approx(494.593732, abs=HALF_A_METRE_M)


@pytest.mark.parametrize(
    ("name", "step"), [("cda", 1e-5), ("crr", 1e-7), ("start", 1e-5), ("rider_kg", 1e-4)]
)
def test_slopes_of_coasting_are_those_of_the_closed_form(flat_day, make_leg, name, step):
    day = flat_day()
    leg = make_leg(day, "coast", 300.0, start=Uncertain(12.0, 0.0))
    _, slopes, _ = leg_slopes(day, leg, figures(), (name,))

    def time_s(change):
        global M
        k = 0.5 * RHO * (CDA + (change if name == "cda" else 0.0))
        mass = 80.0 + (change if name == "rider_kg" else 0.0)
        r = (CRR + (change if name == "crr" else 0.0)) * mass * G
        M = mass
        try:
            return coast_time(12.0 + (change if name == "start" else 0.0), 300.0, k, r)
        finally:
            M = 80.0

    expected = (time_s(step) - time_s(-step)) / (2.0 * step)
    assert slopes[name][0] == pytest.approx(expected, rel=0.005)


def test_coast_downs_of_known_figures_give_them_back(flat_day, make_leg):
    """Exact times from three speeds: what was known before must not show."""
    day = flat_day(scatter=1e-5)
    legs = []
    for number, v0 in enumerate((12.0, 8.0, 5.0), start=1):
        leg = make_leg(day, "coast", 150.0, start=Uncertain(v0, 0.0), n_marks=5, number=number)
        times = [coast_time(v0, s) for s in np.arange(30.0, 151.0, 30.0)]
        legs.append(replace(leg, times_s=np.array(times), timing_sd_s=1e-3))
    readings = tuple(RunReading(run=leg.run, legs=(leg,)) for leg in legs)
    fit = fit_problem(make_problem(day, readings))
    assert fit.values[fit.index("cda", "plain")] == pytest.approx(CDA, abs=1e-4)
    assert fit.values[fit.index("crr", "plain")] == pytest.approx(CRR, abs=1e-6)


def test_steady_runs_agree_with_an_ordinary_regression(flat_day, make_leg):
    """P/v = R + k v² is a straight line in v²: value and covariance of scipy's least squares.

    Times of 2 km at four powers from the cubic, with noise of 0.5 %; the line is fitted to P/v
    with weights from the same noise, and the same knowledge beforehand as two more rows.
    """
    day = flat_day()
    rng = np.random.default_rng(8)
    powers = np.array([80.0, 150.0, 250.0, 400.0] * 3)
    speeds = np.array([brentq(lambda v, p=p: K * v**3 + R * v - p, 0.1, 30.0) for p in powers])
    assert speeds[2] == pytest.approx(10.636752, abs=1e-6)  # closed form 1
    legs, times = [], 2000.0 / speeds * (1.0 + 0.005 * rng.standard_normal(len(powers)))
    for number, (power, time_s) in enumerate(zip(powers, times, strict=True), start=1):
        leg = make_leg(day, "flat", 2000.0, power_w=power, number=number)
        v0 = float(speeds[number - 1])
        legs.append(replace(leg, times_s=np.array([time_s]), timing_sd_s=1e-4, run_up_mps=v0))
    fit = fit_problem(
        make_problem(day, tuple(RunReading(run=leg.run, legs=(leg,)) for leg in legs))
    )
    seen = 2000.0 / times
    # P/v - k v² moves by -(P/v + 2 k v²) dv/v when v is off.
    weights = 1.0 / (0.005 * (powers / seen + 2.0 * K * seen**2))
    design = np.column_stack([0.5 * RHO * seen**2, np.full(len(seen), M * G)])
    rows = np.vstack([design * weights[:, None], np.diag([1 / CDA_BEFORE[1], 1 / CRR_BEFORE[1]])])
    target = np.concatenate([
        powers / seen * weights, [CDA_BEFORE[0] / CDA_BEFORE[1], CRR_BEFORE[0] / CRR_BEFORE[1]]
    ])  # fmt: skip
    expected, *_ = lstsq(rows, target)
    expected_sds = np.sqrt(np.diag(np.linalg.inv(rows.T @ rows)))
    found = [fit.index("cda", "plain"), fit.index("crr", "plain")]
    # The regression has its noise in v on both sides; it agrees within a fifth of the doubt.
    assert (np.abs(fit.values[found] - expected) < 0.2 * expected_sds).all()
    assert fit.sds[found] == pytest.approx(expected_sds, rel=0.05)


def test_roll_down_from_standstill_is_that_of_the_closed_form(flat_day, plain_setup):
    """-5 %: 500 m in 56.242042 s [closed form 6]; the air thickens by 0.2 % on the way down."""
    day = flat_day()
    course = course_from_arrays(lengths_m=np.full(100, 5.0), grades=-0.05)
    road = Road(name="slope", course=course, start_m=0.0, end_m=500.0)
    written = RunEntry(
        build="plain", kind="roll-down", road="slope", time_s=1.0, start_kmh={"value": 0.0}
    )
    run = TestRun(
        number=1, written=written, build=day.builds[0], road=road, weather=plain_setup.weather,
        wind_group="w", fitting="f", zeroing="z",
    )  # fmt: skip
    leg = Leg(
        name="down", run=run, cut=cut_road(road, np.array([500.0])), powers_w=np.zeros(50),
        times_s=np.ones(1), stop_m=None, start=Uncertain(0.0, 0.0), timing_sd_s=0.05,
        run_up_mps=0.0,
    )  # fmt: skip
    leg = replace(leg, powers_w=np.zeros(leg.cut.course.n_segments))
    fiftieth_of_a_second = 0.02
    found = leg_prediction(day, leg, figures(start=0.0))
    assert found[0] == pytest.approx(56.242042, abs=fiftieth_of_a_second)

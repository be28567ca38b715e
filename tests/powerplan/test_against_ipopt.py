"""The quickest plan against an independent solution: the same problem, written out again for
CasADi (symbolic derivatives) and solved by IPOPT (interior point) with multiple shooting.

Needs the extra ``reference`` (``pip install buildgap[reference]``); left out without it.
"""

import math
from dataclasses import replace

import numpy as np
import pytest

from simulator.course import course_from_arrays
from simulator.powerplan import make_problem, solve

G = 9.80665
HALF_A_THOUSANDTH = 5.0e-4
CP_W, WPRIME_J, MOST_W = 270.0, 16_000.0, 900.0
MASS_KG, CRR, CDA_M2, DENSITY_KGM3, EFFICIENCY, INERTIA_KGM2 = 80.0, 0.004, 0.30, 1.2, 0.97, 0.15


def quickest_s(casadi, course, *, start_mps, wheel_radius_m, wind_mps, ceilings_mps, guess):
    """Least time in s: states u = v² and W', controls power above and below CP, and the brake."""
    n = course.n_segments
    ca = casadi
    names = ("u", "w", "above", "below", "brake", "sine", "cosine", "head", "cross", "length")
    u, w, above, below, brake, sine, cosine, head, cross, length = (ca.MX.sym(x) for x in names)

    def rates(u, w):
        v = ca.sqrt(u)
        axial = v + head
        force = (
            EFFICIENCY * (CP_W + above - below) / v
            - MASS_KG * G * (sine + CRR * cosine)
            - 0.5 * DENSITY_KGM3 * CDA_M2 * axial * ca.sqrt(axial**2 + cross**2)
            - (0.091 + 0.0087 * v)
            - brake
        )
        whole_kg = MASS_KG + INERTIA_KGM2 / wheel_radius_m**2
        return 2.0 * force / whole_kg, (-above + (1.0 - w / WPRIME_J) * below) / v, 1.0 / v

    half = 0.5 * length
    k1 = rates(u, w)
    k2 = rates(u + half * k1[0], w + half * k1[1])
    k3 = rates(u + half * k2[0], w + half * k2[1])
    k4 = rates(u + length * k3[0], w + length * k3[1])
    ends = [
        x + length / 6.0 * (a + 2.0 * b + 2.0 * c + d)
        for x, a, b, c, d in zip((u, w, 0), k1, k2, k3, k4, strict=True)
    ]
    inputs = [u, w, above, below, brake, sine, cosine, head, cross, length]
    step = ca.Function("step", inputs, ends)
    us, ws = ca.MX.sym("us", n + 1), ca.MX.sym("ws", n + 1)
    over, under, brakes = ca.MX.sym("over", n), ca.MX.sym("under", n), ca.MX.sym("brakes", n)
    slope = np.arctan(course.grades)
    east, north = wind_mps
    heads = east * np.sin(course.headings_rad) + north * np.cos(course.headings_rad)
    crosses = east * np.cos(course.headings_rad) - north * np.sin(course.headings_rad)
    rows = [np.sin(slope), np.cos(slope), heads, crosses, np.array(course.lengths_m)]
    u_next, w_next, taken = step.map(n)(
        us[:-1].T, ws[:-1].T, over.T, under.T, brakes.T, *(row[None] for row in rows)
    )
    share = (MOST_W - CP_W) / MOST_W / WPRIME_J
    conditions = ca.vertcat(
        (u_next.T - us[1:]) / 100.0,
        (w_next.T - ws[1:]) / WPRIME_J,
        (over - under) / MOST_W - share * ws[1:],  # what W' allows, at both ends
        (over - under) / MOST_W - share * ws[:-1],
    )
    u_most = np.minimum(900.0, np.square(ceilings_mps))
    low = np.concatenate([np.ones(n + 1), np.zeros(n + 1), np.zeros(3 * n)])
    high = np.concatenate(
        [
            u_most,
            np.full(n + 1, WPRIME_J),
            np.full(n, MOST_W - CP_W),
            np.full(n, CP_W),
            np.full(n, 2000.0 if np.isfinite(ceilings_mps).any() else 0.0),
        ]
    )
    low[0] = high[0] = start_mps**2
    low[n + 1] = high[n + 1] = WPRIME_J
    nlp = {
        "x": ca.vertcat(us, ws, over, under, brakes),
        "f": ca.sum2(taken) / 100.0,
        "g": conditions,
    }
    options = {
        "print_time": False,
        "ipopt": {"print_level": 0, "sb": "yes", "tol": 1e-7, "mu_strategy": "adaptive"},
    }
    solver = ca.nlpsol("solver", "ipopt", nlp, options)
    start = np.concatenate(
        [np.minimum(guess[0], u_most), guess[1], np.full(2 * n, 5.0), np.ones(n)]
    )
    found = solver(
        x0=start,
        lbx=low,
        ubx=high,
        lbg=np.concatenate([np.zeros(2 * n), np.full(2 * n, -math.inf)]),
        ubg=np.zeros(4 * n),
    )
    assert solver.stats()["success"]
    return float(found["f"]) * 100.0


def hills(n, step_m):
    s_m = (np.arange(n) + 0.5) * step_m
    return course_from_arrays(
        lengths_m=np.full(n, step_m),
        grades=0.045 * np.sin(s_m / 900.0) + 0.02 * np.sin(s_m / 170.0),
        headings_rad=0.8 * np.sin(s_m / 400.0) + s_m / 3000.0,
    )


def bends(n, step_m):
    s_m = (np.arange(n) + 0.5) * step_m
    number = np.floor(s_m / 400.0)
    into_m = s_m - 400.0 * number - 200.0
    swell = np.where(np.abs(into_m) < 20.0, np.cos(np.pi * into_m / 40.0) ** 2, 0.0)
    with np.errstate(divide="ignore"):
        radii_m = (12.0 + 18.0 * np.abs(np.sin(1.0 + 2.0 * number))) / swell
    return course_from_arrays(
        lengths_m=np.full(n, step_m), grades=0.03 * np.sin(s_m / 700.0), radii_m=radii_m
    )


CASES = {
    "hills": (hills(1000, 10.0), (0.0, 0.0)),
    "hills and wind": (hills(1000, 10.0), (3.0, 2.0)),
    "bends": (bends(1000, 5.0), (0.0, 0.0)),
    "forty kilometres": (hills(4000, 10.0), (0.0, 0.0)),
}


@pytest.mark.slow
@pytest.mark.parametrize("case", CASES.values(), ids=CASES.keys())
def test_as_quick_as_the_other_solver_finds(case, plain_setup, varied):
    casadi = pytest.importorskip("casadi")
    course, wind_mps = case
    course = replace(course, node_heights_m=np.zeros(course.n_segments + 1))
    setup = varied(
        plain_setup,
        rider={"cp_w": CP_W, "wprime_j": WPRIME_J, "max_power_w": MOST_W, "lean_deg": 30.0},
        build={
            "drivetrain_efficiency": EFFICIENCY,
            "bearing_factor": 1.0,
            "wheel_inertia_kgm2": INERTIA_KGM2,
        },
        weather={
            "wind_mps": math.hypot(*wind_mps),
            "wind_from_deg": math.degrees(math.atan2(*wind_mps)) % 360.0,
        },
    )
    problem = make_problem(course=course, setup=setup)
    plan = solve(problem)
    reference_s = quickest_s(
        casadi,
        course,
        start_mps=problem.rehearsal.start_speed_mps,
        wheel_radius_m=setup.build.wheel_radius_m,
        wind_mps=wind_mps,
        ceilings_mps=problem.rehearsal.ceilings_mps,
        guess=(plan.constant.node_speeds_mps**2, plan.constant.node_reserves_j),
    )
    assert plan.time_s == pytest.approx(reference_s, rel=HALF_A_THOUSANDTH)
    # The other solver keeps to what W' allows at both ends of a step, so it may be a hair slower.
    assert plan.time_s > reference_s * (1.0 - 1e-4)

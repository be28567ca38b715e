"""The fit: finds again what was put in, weighs every run, and agrees with a general solver."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import least_squares

from simulator.errors import CannotFinish
from simulator.fieldtest.infer import (
    _rows,
    fit_problem,
    make_problem,
    predict_legs,
    values_of,
    without_run,
)
from simulator.fieldtest.legs import RunReading
from simulator.fieldtest.outcome import difference_of
from simulator.fieldtest.rehearsal import draw_truth, rehearsed

BUILDS = ("Plover", "Gannet")


def noiseless(problem):
    """Measurements without noise, all else as noted."""
    truth = {(p.role, p.owner): p.before for p in problem.parameters}
    truth |= {("cda", "Plover"): 0.30, ("crr", "Plover"): 0.004}
    truth |= {("cda", "Gannet"): 0.28, ("crr", "Gannet"): 0.0035}

    class Silent:
        def standard_normal(self, n):
            return np.zeros(n)

    return rehearsed(problem, truth, Silent()), truth


def noisy(problem, seed):
    rng = np.random.default_rng(seed)
    truth = draw_truth(problem, rng)
    return rehearsed(problem, truth, rng), truth


def test_exact_measurements_give_the_figures_back(make_fit_problem, mixed_text):
    """Calm air that is known to be calm: what was known beforehand must not show."""
    problem, truth = noiseless(make_fit_problem(mixed_text, head="[wind]\nsd_kmh = 0\n"))
    fit = fit_problem(problem)
    for name in BUILDS:
        for role in ("cda", "crr"):
            i = fit.index(role, name)
            assert abs(fit.values[i] - truth[role, name]) < 0.02 * fit.sds[i]
    assert fit.chi2 < 0.1
    assert fit.inflation == 1.0


def test_a_general_solver_finds_the_same(make_fit_problem, mixed_text):
    problem, _ = noisy(make_fit_problem(mixed_text), seed=3)
    fit = fit_problem(problem)
    found = least_squares(
        lambda x: _rows(problem, values_of(problem, x))[0],
        np.zeros(len(problem.parameters)),
        jac=lambda x: _rows(problem, values_of(problem, x))[1],
        method="trf",
        ftol=1e-6,
    )
    other = values_of(problem, found.x)
    assert (np.abs(other - fit.values) < 0.05 * fit.sds).all()
    assert float(2.0 * found.cost) == pytest.approx(fit.chi2, abs=0.01)


def test_leaving_a_run_out_is_that_of_a_fit_without_it(make_fit_problem, mixed_text):
    problem, _ = noisy(make_fit_problem(mixed_text), seed=5)
    fit = fit_problem(problem)
    number = 2  # on the flat road
    quick, covariance = without_run(fit, number)
    kept = tuple(
        reading if reading.run.number != number else replace(reading, legs=())
        for reading in problem.readings
    )
    full = fit_problem(make_problem(problem.day, kept))
    for name in BUILDS:
        i, j = fit.index("cda", name), full.index("cda", name)
        assert quick[i] == pytest.approx(full.values[j], abs=0.1 * full.sds[j])
        assert covariance[i, i] == pytest.approx(full.sds[j] ** 2, rel=0.1)


def test_more_runs_narrow_and_a_difference_is_better_known_than_its_parts(
    make_fit_problem, mixed_text
):
    one, _ = noiseless(make_fit_problem(mixed_text))
    runs = mixed_text[mixed_text.index("[[run]]") :]
    two, _ = noiseless(make_fit_problem(mixed_text + runs.replace("spell", "later spell")))
    fit, wider = fit_problem(two), fit_problem(one)
    builds = {tested.name: tested for tested in two.day.builds}
    for role in ("cda", "crr"):
        assert fit.sds[fit.index(role, "Plover")] < wider.sds[wider.index(role, "Plover")]
    difference = difference_of(fit, builds["Plover"], builds["Gannet"])
    alone = [fit.sds[fit.index("crr", name)] for name in BUILDS]
    assert difference.crr.sd < np.hypot(*alone)
    assert difference.cda_m2.value == pytest.approx(-0.02, abs=difference.cda_m2.sd)


def test_without_unpowered_runs_meter_and_figures_hang_together(make_fit_problem, mixed_text):
    """The scale of the meter stays as open as before, and moves CdA and Crr with it."""
    start = mixed_text.index("[[run]]")
    runs = ["[[run]]" + part for part in mixed_text[start:].split("[[run]]")[1:]]
    powered = mixed_text[:start] + "".join(run for run in runs if "roll-down" not in run)
    with_all = fit_problem(noiseless(make_fit_problem(mixed_text))[0])
    without = fit_problem(noiseless(make_fit_problem(powered))[0])
    scale = with_all.sds[with_all.index("scale", "")], without.sds[without.index("scale", "")]
    assert scale[1] > 0.02  # 3 % beforehand; climbs of known mass tell a little
    assert scale[0] < 0.95 * scale[1]
    i, j = without.index("scale", ""), without.index("crr", "Plover")
    correlation = without.covariance[i, j] / (without.sds[i] * without.sds[j])
    assert correlation < -0.3 or correlation > 0.3


def test_swap_fits_the_difference_directly(make_fit_problem, mixed_text):
    """Tyres alone were changed: one CdA for both, and Crr's difference far better known."""
    swapped = mixed_text.replace(
        '[[build]]\nfile = "gannet.toml"\n',
        '[[build]]\nfile = "gannet.toml"\nswap_of = "Plover"\ndiffers_in = ["rolling"]\n',
    )
    free = make_fit_problem(mixed_text)
    tied = make_fit_problem(swapped)
    assert len(tied.parameters) == len(free.parameters) - 1
    fits = [fit_problem(noiseless(p)[0]) for p in (free, tied)]
    sds = []
    for fit in fits:
        builds = {t.name: t for t in fit.problem.day.builds}
        sds.append(difference_of(fit, builds["Plover"], builds["Gannet"]))
    assert sds[1].cda_m2.value == 0.0
    assert sds[1].cda_m2.sd == 0.0
    assert sds[1].crr.sd < 0.8 * sds[0].crr.sd


def test_one_run_off_shows_as_lack_of_fit_and_in_its_influence(make_fit_problem, mixed_text):
    problem, _ = noiseless(make_fit_problem(mixed_text))
    legs = {leg.name: leg for leg in problem.legs}
    name = next(name for name in legs if name.startswith("5 "))  # a climb
    moved = replace(legs[name], times_s=legs[name].times_s * 0.70)
    readings = tuple(
        replace(r, legs=tuple(moved if leg.name == name else leg for leg in r.legs))
        for r in problem.readings
    )
    fit = fit_problem(make_problem(problem.day, readings))
    assert fit.chance < 0.01
    assert fit.inflation > 1.3
    scores = {
        leg.name: float(np.abs(r).max()) for leg, r in zip(fit.problem.legs, fit.residuals,
                                                          strict=True)
    }  # fmt: skip
    # With two climbs of that build nobody can say which one is odd: one of them is named.
    assert max(scores, key=scores.get) in (name, "9 Gannet, climb, hill")


def test_times_of_another_road_are_told(make_fit_problem, mixed_text):
    problem = make_fit_problem(mixed_text.replace("time_s = 240", "time_s = 2"))
    with pytest.raises(CannotFinish, match=r"furthest off is run 1 Plover, climb, hill: 0:02\.0 "):
        fit_problem(problem)


def test_prediction_of_a_run_not_ridden_covers_it(make_fit_problem, mixed_text):
    problem, _ = noisy(make_fit_problem(mixed_text), seed=9)
    kept = tuple(r if r.run.number != 13 else RunReading(run=r.run, legs=())
                 for r in problem.readings)  # fmt: skip
    fit = fit_problem(make_problem(problem.day, kept))
    (leg,) = [leg for leg in problem.legs if leg.run.number == 13]
    predicted, covariance = predict_legs(fit, [leg])
    sd_s = float(np.sqrt(covariance[0, 0]))
    assert abs(predicted[0] - leg.times_s[0]) < 3.0 * sd_s
    assert 0.005 * leg.times_s[0] < sd_s < 0.05 * leg.times_s[0]


@pytest.mark.slow
def test_intervals_cover_as_often_as_they_say(make_fit_problem, mixed_text):
    """200 rehearsed tests: 90 % intervals hold the truth in 85 to 95 % of them."""
    base = make_fit_problem(mixed_text)
    hits = {(role, name): 0 for role in ("cda", "crr") for name in BUILDS}
    for seed in range(200):
        problem, truth = noisy(base, seed=seed)
        fit = fit_problem(problem)
        for role, name in hits:
            i = fit.index(role, name)
            hits[role, name] += abs(fit.values[i] - truth[role, name]) < 1.645 * fit.sds[i]
    assert all(0.85 <= n / 200 <= 0.95 for n in hits.values()), hits

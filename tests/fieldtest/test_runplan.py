"""Plans of runs: information against a fit of rehearsed runs, order, numbers of runs."""

from pathlib import Path

import numpy as np
import pytest

from simulator.errors import InputError
from simulator.fieldtest import plan_file
from simulator.fieldtest.infer import fit_problem, make_problem
from simulator.fieldtest.outcome import difference_of
from simulator.fieldtest.recorded import read_runs
from simulator.fieldtest.rehearsal import draw_truth, rehearsed
from simulator.fieldtest.runplan import NEEDED_SCORE, drift_bias
from simulator.fieldtest.testday import testday_of as day_of
from simulator.fieldtest.testday_file import TestDayFile as DayFile
from simulator.files import check_toml

EXAMPLE = Path(__file__).parents[2] / "configs" / "fieldtest" / "runs.toml"
COMMON = """
position_factor = 1.0
scatter_pct = 0.5
mass_sd_kg = 0.3
rider = "rider.toml"
weather = "weather.toml"
"""
ROADS = """
[[road]]
name = "hill"
length_m = 1000
grade_pct = 7
[[road]]
name = "flat"
length_m = 1500
heading_deg = 90
"""
PLAN = (
    'name = "p"\nfirst = "plover.toml"\nother = "gannet.toml"\nwind_sd_kmh = 5\n'
    + COMMON
    + ROADS
    + '[[option]]\nname = "climb"\nkind = "climb"\nroad = "hill"\npower_w = 250\n'
    + '[[option]]\nname = "flat"\nkind = "flat"\nroad = "flat"\npower_w = 250\n'
    + "out_and_back = true\n"
)


@pytest.fixture
def plan(folder):
    """``plan(text)`` -> `RunPlan`."""

    def make(text=PLAN):
        path = folder / "plan.toml"
        path.write_text(text, encoding="utf-8")
        return plan_file(path)

    return make


def test_expected_standard_errors_are_those_of_a_fit_of_such_runs(plan, folder):
    """One set A B B A of both kinds, rehearsed and fitted, against the plan's information."""
    day_text = (
        'name = "d"\n'
        + COMMON
        + ('[[build]]\nfile = "plover.toml"\n[[build]]\nfile = "gannet.toml"\n')
        + ROADS
    )
    for i, name in enumerate(("Plover", "Gannet", "Gannet", "Plover")):
        own = f'[[run]]\nbuild = "{name}"\n'
        day_text += own + 'kind = "climb"\nroad = "hill"\ntime_s = 240\npower_w = 250\n'
        for back in ("false", "true"):
            day_text += own + (
                f'kind = "flat"\nroad = "flat"\nback = {back}\nwind = "w{i}"\ntime_s = 140\n'
                "power_w = 250\n"
            )
    day = day_of(check_toml(day_text, DayFile, file="d"), file="d", folder=folder)
    base = make_problem(day, read_runs(day))
    rng = np.random.default_rng(4)
    fit = fit_problem(rehearsed(base, draw_truth(base, rng), rng))
    found = difference_of(fit, *day.builds)
    mixed = next(p for p in plan().plans if p.options == ("climb", "flat"))
    assert mixed.sets[0] == 1
    # The fit's slopes are those at its own values, a little off the stated ones.
    assert mixed.cda_sds[0] == pytest.approx(found.cda_m2.sd / fit.inflation, rel=0.15)
    assert mixed.crr_sds[0] == pytest.approx(found.crr.sd / fit.inflation, rel=0.15)


def test_more_sets_and_more_kinds_narrow(plan):
    found = {p.options: p for p in plan().plans}
    for p in found.values():
        assert list(p.cda_sds) == sorted(p.cda_sds, reverse=True)
        assert list(p.crr_sds) == sorted(p.crr_sds, reverse=True)
    both = found["climb", "flat"]
    assert both.cda_sds[0] < min(found["climb",].cda_sds[0], found["flat",].cda_sds[0])


def test_number_of_runs_is_the_first_that_finds_the_difference(plan):
    text = PLAN.replace("scatter_pct = 0.5", "scatter_pct = 0.1").replace(
        "wind_sd_kmh = 5", "wind_sd_kmh = 1"
    )
    text = "most_runs = 300\n" + text + "[meter]\nfitting_sd_pct = 0.1\nzero_sd_w = 0.1\n"
    found = plan(text)
    for p in found.plans:
        for runs, sds, difference in (
            (p.cda_runs, p.cda_sds, found.cda_difference_m2),
            (p.crr_runs, p.crr_sds, found.crr_difference),
        ):
            n_sets = None if runs is None else runs // (4 * len(p.options))
            for sets, sd in zip(p.sets, sds, strict=True):
                enough = abs(difference) >= NEEDED_SCORE * sd
                assert enough == (n_sets is not None and n_sets <= sets)
    assert found.plans[0].both_runs is not None
    counts = [p.both_runs for p in found.plans if p.both_runs is not None]
    assert counts == sorted(counts)


def test_score_that_is_found_nine_times_in_ten():
    """1.95996 + 1.28155 = 3.24152 (quantiles of the normal law, textbook)."""
    assert pytest.approx(3.24152, abs=1e-5) == NEEDED_SCORE
    rng = np.random.default_rng(2)
    seen = np.abs(NEEDED_SCORE + rng.standard_normal(200_000)) > 1.95996
    assert seen.mean() == pytest.approx(0.90, abs=0.003)


@pytest.mark.parametrize(("order", "bias"), [("ABBA", 0.0), ("ABAB", 1.0), ("AABB", 2.0),
                                             ("ABBAABBA", 0.0)])  # fmt: skip
def test_drift_that_an_order_lets_through(order, bias):
    assert drift_bias(order) == pytest.approx(bias)
    # By definition: times that grow by 1 a run, mean of B minus mean of A.
    times = np.arange(len(order), dtype=float)
    seen = times[[c == "B" for c in order]].mean() - times[[c == "A" for c in order]].mean()
    assert drift_bias(order) == pytest.approx(seen)


def test_example_plan(plan):
    found = plan_file(EXAMPLE)
    assert found.has_unpowered
    assert found.cda_difference_m2 == pytest.approx(0.015)
    assert len(found.answers) == 4
    assert all(answer.per_cda_s > 0.0 < answer.per_crr_s for answer in found.answers)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (('road = "flat"', 'road = "flot"'), 'road "flot" is not known here'),
        (('kind = "flat"', 'kind = "free"'), "a kind that can be planned"),
        (('road = "hill"\npower_w = 250\n', 'road = "hill"\n'), "`power_w` is missing"),
        (('kind = "climb"', 'kind = "coast"'), "`start_kmh` is missing"),
        (
            ('kind = "climb"\nroad = "hill"\npower_w = 250', 'kind = "coast"\nroad = "hill"\n'
             "start_kmh = 15"),
            "does not reach the last gate",
        ),
    ],
)  # fmt: skip
def test_wrong_plans_are_told(plan, change, words):
    with pytest.raises(InputError) as caught:
        plan(PLAN.replace(*change, 1))
    assert words in str(caught.value)

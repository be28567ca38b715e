"""Sentences of a verdict and of a plan, and that views hold nothing but plain records."""

import json
import math
import re
from dataclasses import replace
from pathlib import Path

import pytest

from simulator.fieldtest import judge_file, plan_file
from simulator.report import (
    answer_json,
    answer_page,
    answer_text,
    make_plan_view,
    make_verdict_view,
)
from simulator.setup import Uncertain

EXAMPLES = Path(__file__).parents[2] / "configs" / "fieldtest"


@pytest.fixture(scope="module")
def verdict():
    return judge_file(EXAMPLES / "two-climbs.toml")


def test_odd_gap_is_told_with_its_numbers(verdict):
    steep = verdict.climbs[1]
    view = make_verdict_view(verdict)
    assert view.sentence.startswith(
        f"Plover's +9.8 s on Steep Lane is {steep.unexplained_s:.1f} s more than its known "
        "differences predict, which chance alone does "
    )
    assert (
        f"Predicted are +{steep.predicted.value:.1f} s ± {1.645 * steep.sd_s:.1f} s on Steep Lane"
        in view.more[0]
    )
    assert f"once in {round(1.0 / steep.chance)} tests" in view.sentence
    # A single pair of runs: the plain answer stands in the headline.
    n_pairs = verdict.next_run.n_pairs
    assert view.sentence.endswith(
        f": do not build on one pair of runs, about {n_pairs} more pairs would settle it."
    )
    assert any(line.startswith("Ride both once more on Steep Lane") for line in view.more)
    disagree = [line for line in view.more if "one error cannot be both" in line]
    assert len(disagree) == sum(e.belief == "the climbs disagree" for e in verdict.explanations)


def test_expected_gap_is_told_as_such(verdict):
    calm = tuple(
        replace(c, observed=Uncertain(c.predicted.value, c.observed.sd)) for c in verdict.climbs
    )
    view = make_verdict_view(replace(verdict, climbs=calm, next_run=None))
    assert "is what its known differences predict" in view.sentence
    assert view.more == (
        "Nothing is left to explain; more runs would narrow it, see `buildgap fieldtest runs`.",
    )


def test_names_cannot_break_out_of_page_or_terminal(verdict):
    evil = replace(verdict, name='<script>alert("x")</script>\x1b[31m')
    view = make_verdict_view(evil)
    page = answer_page(view, b"<svg/>")
    assert "<script>alert" not in page
    assert "\x1b" not in answer_text(view)


def test_plain_letters_for_a_plain_terminal(verdict):
    text = answer_text(make_verdict_view(verdict), encoding="ascii")
    text.encode("ascii")
    assert "+/-" in text


def test_json_holds_all_numbers(verdict):
    found = json.loads(answer_json(make_verdict_view(verdict)))["data"]["figures"]
    assert len(found["climbs"]) == 2
    assert found["climbs"][1]["observed_s"]["value"] == pytest.approx(9.8)
    assert {e["kind"] for e in found["explanations"]} == {e.kind for e in verdict.explanations}
    # A need that no size would meet is infinite here and null there.
    air = next(e for e in found["explanations"] if e["kind"] == "air")
    assert air["needs"][1]["value"] is None


def test_plan_says_runs_and_order():
    plan = plan_file(EXAMPLES / "runs.toml")
    view = make_plan_view(plan)
    best = min(p.cda_runs for p in plan.plans if p.cda_runs is not None)
    crr_best = min(p.crr_runs for p in plan.plans if p.crr_runs is not None)
    # As one says it: short, in one breath; which runs they are stands below.
    assert view.sentence == (
        f"It takes {best} runs to tell Plover and Gannet apart in CdA, and {crr_best} in Crr."
    )
    assert "For Crr, ride these: roll-down." in view.more
    assert "differs from Gannet by +0.015 m² of CdA and +0.0010 of Crr" in view.more[0]
    assert any("A B B A" in line for line in view.more)
    assert view.legend.startswith("a climb at 260 W; b flat both ways")


def of_runs(plan, cda, crr, both):
    """The plan with one mix that finds CdA, Crr and both in so many runs."""
    mix = replace(plan.plans[0], cda_runs=cda, crr_runs=crr, both_runs=both)
    return replace(plan, plans=(mix,))


@pytest.mark.parametrize(
    ("counts", "said"),
    [
        ((16, 24, 24), "It takes 24 runs to tell Plover and Gannet apart in CdA and in Crr."),
        ((16, 24, None), "It takes 16 runs to tell Plover and Gannet apart in CdA, and 24 in Crr."),
        (
            (16, None, None),
            "It takes 16 runs to tell Plover and Gannet apart in CdA; no mix within the limit "
            "tells them apart in Crr.",
        ),
        (
            (None, None, None),
            "No mix within the limit tells Plover and Gannet apart in CdA or Crr.",
        ),
    ],
)
def test_runs_are_told_in_one_sentence(counts, said):
    plan = of_runs(plan_file(EXAMPLES / "runs.toml"), *counts)
    view = make_plan_view(plan)
    assert view.sentence == said
    rides = [line for line in view.more if "ride these: " in line]
    assert len(rides) == (1 if counts[2] else sum(n is not None for n in counts[:2]))


def test_what_does_not_differ_is_not_looked_for():
    plan = of_runs(plan_file(EXAMPLES / "runs.toml"), 16, None, None)
    same_crr = make_plan_view(replace(plan, crr_difference=0.0))
    assert same_crr.sentence == "It takes 16 runs to tell Plover and Gannet apart in CdA."
    same = make_plan_view(replace(plan, crr_difference=0.0, cda_difference_m2=0.0))
    assert "the same CdA and Crr" in same.sentence


def test_chance_and_one_run_alone_are_told_apart(verdict):
    """One run that is off by all of it is rarer than all runs being off by a part of it."""
    steep = verdict.climbs[1]
    line = next(t for t in make_verdict_view(verdict).more if "One run alone" in t)
    once = re.search(r"Once in (\d+) tests", line)
    times = re.search(r"off by ([\d.]+) s, ([\d.]+) times the usual ([\d.]+) s", line)
    off_s, n_times, usual_s = map(float, times.groups())
    assert off_s == pytest.approx(steep.unexplained_s, abs=0.05)  # one pair: all of it
    assert n_times == pytest.approx(off_s / usual_s, rel=0.03)
    assert 1.0 / float(once.group(1)) == pytest.approx(steep.chance, rel=0.01)
    assert "rarer still" in line
    assert math.erfc(n_times / math.sqrt(2.0)) < 0.01 * steep.chance

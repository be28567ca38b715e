"""Sentences of a verdict and of a plan, and that views hold nothing but plain records."""

import json
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
        f"differences predict (+{steep.predicted.value:.1f} s ± {1.645 * steep.sd_s:.1f} with "
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
    assert f"{best} runs (" in view.sentence
    assert any("A B B A" in line for line in view.more)
    assert view.legend.startswith("a climb at 260 W; b flat both ways")

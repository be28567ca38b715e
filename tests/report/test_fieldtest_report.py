"""Views, charts, tables and pages of field tests: what they say, against what was found."""

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from simulator.fieldtest import (
    HeldOut,
    HeldOutPart,
    infer_day,
    judge_file,
    load_testday,
    plan_file,
)
from simulator.measures import IMPERIAL
from simulator.report import (
    answer_json,
    answer_page,
    answer_text,
    draw_answer,
    make_outcome_view,
    make_plan_view,
    make_verdict_view,
)
from simulator.report.fieldtest_charts import NINE_IN_TEN_OF_TWO, outcome_charts
from simulator.report.fieldtest_view import Chart, Scatter, give_or_take, signed_small
from simulator.setup import Uncertain

ROOT = Path(__file__).parents[2]
EXAMPLES = ROOT / "configs" / "fieldtest"


@pytest.fixture(scope="module")
def outcome():
    return infer_day(load_testday(EXAMPLES / "testday.toml"))


@pytest.fixture(scope="module")
def view(outcome):
    return make_outcome_view(outcome)


def table(view, key):
    return next(t for t in view.tables if t.key == key)


def cells(view, key):
    return [[cell.text for cell in row.cells] for row in table(view, key).rows]


def test_sentence_says_more_or_less_and_what_is_not_told_apart(outcome):
    (d,) = outcome.differences
    sure = replace(d, cda_m2=Uncertain(-0.02, 0.005), crr=Uncertain(0.0001, 0.0004))
    text = make_outcome_view(replace(outcome, differences=(sure,))).sentence
    assert "0.020 ± 0.005 m² less CdA and 0.0001 ± 0.0004 more Crr (not told apart)" in text


@pytest.mark.parametrize(
    ("scale", "told"),
    [(0.95, "shows 5.0 % too little (± "), (1.06, "shows 6.0 % too much (± "), (1.01, "")],
)
def test_a_meter_that_is_off_is_told_when_the_runs_tell_it(outcome, scale, told):
    # A scale is what the meter shows over what is true: 0.95 of 200 W are 190 W, too little.
    i = outcome.fit.index("scale", "")
    values = outcome.fit.values.copy()
    values[i] = scale
    said = " ".join(
        make_outcome_view(replace(outcome, fit=replace(outcome.fit, values=values))).more
    )
    assert ("The power meter" in said) == bool(told)
    assert told in said


def test_swap_that_cannot_change_crr_is_not_told_to_have(outcome):
    (d,) = outcome.differences
    wheels = replace(d, crr=Uncertain(0.0, 0.0))
    text = make_outcome_view(replace(outcome, differences=(wheels,))).sentence
    assert "CdA" in text
    assert "Crr" not in text


def test_one_build_that_runs_hardly_tell_gets_no_figure(outcome):
    lone = replace(
        outcome.builds[0],
        cda_m2=Uncertain(0.3, 2.0),
        crr=Uncertain(0.004, 0.03),
        hardly_told=("CdA", "Crr"),
    )
    runs = tuple(replace(run, build="Gannet") for run in outcome.runs)
    outcome = replace(outcome, runs=runs)
    view = make_outcome_view(replace(outcome, builds=(lone,), differences=()))
    assert view.sentence.startswith(
        "These runs say hardly more about Gannet's CdA (± 2.000 m²) and Crr (± 0.0300) than a "
        "guess does. Add "
    )
    assert cells(view, "figures")[0][1:3] == ["not told", "not told"]
    half = replace(lone, cda_m2=Uncertain(0.3, 0.01), hardly_told=("Crr",))
    text = make_outcome_view(replace(outcome, builds=(half,), differences=())).sentence
    assert text.startswith(
        "Gannet has a CdA of 0.300 ± 0.010 m². These runs say hardly more about Gannet's Crr "
        "(± 0.0300) than a guess does. Add "
    )


def test_headline_of_two_builds_says_what_their_difference_rests_on(outcome):
    """What a difference leaves open, or else what each build by itself does, and what to add."""
    (d,) = outcome.differences
    wide = replace(d, cda_m2=Uncertain(0.02, 0.05))
    text = make_outcome_view(replace(outcome, differences=(wide,))).sentence
    assert "about the difference in CdA (± 0.050 m²) than a guess does. Add " in text
    alone = replace(outcome.builds[0], cda_m2=Uncertain(0.3, 0.09), hardly_told=("CdA",))
    text = make_outcome_view(replace(outcome, builds=(alone, *outcome.builds[1:]))).sentence
    assert "What CdA (± 0.090 m²) a build has by itself stays open" in text
    assert "Add" not in make_outcome_view(outcome).sentence


def test_many_free_rides_are_predicted_in_one_sentence(outcome):
    piece = HeldOut(name="km 1 to 2", measured_s=100.0, predicted_s=99.0, sd_s=2.0)
    far = replace(piece, measured_s=110.0)
    names = [reading.run.name for reading in outcome.readings]

    def part(i, *pieces):
        off_s = sum(p.measured_s - p.predicted_s for p in pieces)
        return HeldOutPart(
            run=names[i], pieces=pieces, measured_s=600.0 + off_s, predicted_s=600.0, sd_s=3.0
        )

    parts = (part(0, piece, piece), part(1, piece, piece), part(2, far, piece))
    told = [line for line in make_outcome_view(replace(outcome, held_out=parts)).more
            if "second half" in line]  # fmt: skip
    assert told == [
        "Each of 3 free rides was predicted in its second half by a fit without that half: 2 of "
        "these times lie inside their intervals (nine in ten), 5 of 6 pieces do; furthest off is "
        f"run {names[2]}, by 12.0 s in 10:12.0."
    ]


def test_every_run_has_a_row_and_a_dot(outcome, view):
    rows = cells(view, "runs")
    assert [row[0] for row in rows] == [run.name for run in outcome.runs]
    chart = next(c for c in view.charts if c.title.startswith("How well"))
    assert [row.value for row in chart.rows] == [run.score for run in outcome.runs]
    # The band holds nine in ten of a bell curve; runs of an honest day lie in it about as often.
    inside = sum(chart.band[0] <= row.value <= chart.band[1] for row in chart.rows)
    assert inside >= 0.75 * len(chart.rows)
    spread = float(np.sqrt(np.mean([row.value**2 for row in chart.rows])))
    assert 0.5 < spread < 1.6


def test_outline_is_that_of_the_covariance(outcome):
    """Points on it lie at one distance: d' C^-1 d = 4.605, the 90 % quantile of chi² with 2."""
    charts = outcome_charts(outcome, make_outcome_view(outcome).measures)
    both = next(c for c in charts if isinstance(c, Scatter) and c.outlines)
    assert pytest.approx(4.605, abs=0.001) == NINE_IN_TEN_OF_TWO**2
    for outline, build in zip(both.outlines, outcome.builds, strict=True):
        sds = np.array([build.cda_m2.sd, build.crr.sd])
        shape = np.outer(sds, sds) * np.array([[1.0, build.correlation], [build.correlation, 1.0]])
        off = np.column_stack([outline.xs, outline.ys]) - [build.cda_m2.value, build.crr.value]
        distances = np.einsum("ij,jk,ik->i", off, np.linalg.inv(shape), off)
        assert distances == pytest.approx(NINE_IN_TEN_OF_TWO**2, rel=1e-6)


def test_residuals_stand_over_the_speed_of_their_runs(outcome, view):
    by_speed = next(c for c in view.charts if isinstance(c, Scatter) and c.band)
    timed = [run for run in outcome.runs if not run.is_stop]
    assert len(by_speed.marks) == len(timed)
    # The first run: 2.5 km in 595.6 s.
    assert by_speed.marks[0].x == pytest.approx(3.6 * 2500.0 / 595.6, abs=0.01)


def test_influence_that_is_everything_is_said_in_words(outcome):
    run = replace(outcome.runs[0], pull_cda=55.0)
    rows = cells(make_outcome_view(replace(outcome, runs=(run, *outcome.runs[1:]))), "runs")
    assert rows[0][4] == "rests on it"


def test_doubts_of_runs_reach_the_user_once(outcome):
    odd = replace(outcome.runs[3], oddities=("faster than the others say",))
    runs = (*outcome.runs[:3], odd, *outcome.runs[4:])
    notes = [n.text for n in make_outcome_view(replace(outcome, runs=runs)).notes]
    assert sum("faster than the others say" in text for text in notes) == 1
    assert any(text.startswith(f"Run {odd.name}") for text in notes)


def test_json_holds_covariance_and_every_unknown(outcome, view):
    figures = json.loads(answer_json(view))["data"]["figures"]
    n = len(figures["unknowns"])
    covariance = np.array(figures["covariance"])
    assert covariance.shape == (n, n)
    np.testing.assert_allclose(covariance, covariance.T, atol=1e-12)
    sds = [unknown["sd"] for unknown in figures["unknowns"]]
    np.testing.assert_allclose(np.sqrt(np.diag(covariance)), sds, rtol=1e-6)
    labels = [unknown["label"] for unknown in figures["unknowns"]]
    assert any(label.startswith("wind from east") for label in labels)


def test_imperial_view_keeps_json_in_si(outcome):
    view = make_outcome_view(outcome, IMPERIAL)
    plain = json.loads(answer_json(make_outcome_view(outcome)))["data"]["figures"]
    assert json.loads(answer_json(view))["data"]["figures"] == plain
    assert "lb" in " ".join(row[0] for row in cells(view, "unknowns"))


@pytest.mark.parametrize("make", ["outcome", "verdict", "plan"])
def test_page_and_terminal_carry_the_cautions_and_fit(outcome, make):
    view = {
        "outcome": lambda: make_outcome_view(outcome),
        "verdict": lambda: make_verdict_view(judge_file(EXAMPLES / "two-climbs.toml")),
        "plan": lambda: make_plan_view(plan_file(EXAMPLES / "runs.toml")),
    }[make]()
    text = answer_text(view)
    assert max(map(len, text.splitlines())) <= 80
    assert "…" not in text  # nothing is cut off
    # No-break spaces are for pages: a terminal wraps by itself, programs read plain ones.
    assert "\N{NO-BREAK SPACE}" not in text + answer_json(view)
    page = answer_page(view, b"<svg/>")
    for words in ("rules of the road", "A predicted speed is never advice to ride it"):
        assert words in page
    assert page.count("Take care.") == sum(n.level == "caution" for n in view.notes) >= 2


def test_picture_has_axes_for_each_chart_with_names_and_units(view):
    figure = draw_answer(view)
    assert len(figure.axes) == len(view.charts)
    for axes, chart in zip(figure.axes, view.charts, strict=True):
        assert axes.get_xlabel() == chart.x_label
        if isinstance(chart, Chart):
            assert len(axes.get_yticks()) == len(chart.rows)
        else:
            assert axes.get_ylabel() == chart.y_label


def test_names_of_outlines_do_not_lie_on_each_other(outcome):
    """Two builds with the same figures: their names still stand apart."""
    twin = replace(outcome.builds[0], tested=outcome.builds[1].tested)
    figure = draw_answer(make_outcome_view(replace(outcome, builds=(outcome.builds[0], twin))))
    named = {t.get_text(): t for axes in figure.axes for t in axes.texts
             if t.get_text() in ("Gannet", "Plover")}  # fmt: skip
    figure.canvas.draw()
    boxes = [text.get_window_extent() for text in named.values()]
    assert len(boxes) == 2
    assert not boxes[0].overlaps(boxes[1])


def test_verdict_of_many_stretches_is_cut_nowhere():
    verdict = judge_file(EXAMPLES / "two-climbs.toml")
    more = replace(
        verdict,
        climbs=verdict.climbs * 2,
        explanations=tuple(replace(e, needs=e.needs * 2) for e in verdict.explanations),
    )
    text = answer_text(make_verdict_view(more))
    assert max(map(len, text.splitlines())) <= 80
    assert "…" not in text


def test_small_numbers_and_infinite_ones_in_words():
    assert signed_small(0.04, 1) == "0.0"
    assert signed_small(2.26, 1) == "+2.3"
    assert signed_small(-2.26, 1) == "−2.3"
    assert signed_small(float("inf"), 1) == "none would do"
    assert give_or_take(0.3, 0.0069, 4) == "0.3000 ± 0.0069"

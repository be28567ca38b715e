"""The charts of a test day's outcome: figures, how they hang together, residuals, predictions."""

from __future__ import annotations

import math

from simulator.fieldtest import BuildFigures, Outcome
from simulator.measures import Measures
from simulator.report.fieldtest_view import Chart, ChartRow, Mark, Outline, Scatter, give_or_take
from simulator.setup import Uncertain

NINE_IN_TEN = 1.645
"""Standard deviations either way that hold nine in ten of a bell curve."""

NINE_IN_TEN_OF_TWO = 2.146
"""The same for two figures together: root of the 90 % quantile of chi² with two degrees of
freedom, sqrt(-2 ln 0.1)."""

_N_OUTLINE = 90
_RESIDUAL = "Measured minus fitted, in own doubts"


def outcome_charts(outcome: Outcome, measures: Measures) -> tuple[Chart | Scatter, ...]:
    """All charts, in the order shown."""
    charts: list[Chart | Scatter] = [*_figures(outcome)]
    told = [
        (i, build)
        for i, build in enumerate(outcome.builds)
        if not build.hardly_told and build.cda_m2.sd > 0.0 and build.crr.sd > 0.0
    ]
    if told:
        charts.append(_together(told))
    order = [b.tested.name for b in outcome.builds]
    charts.append(
        Chart(
            title="How well each run agrees; shaded: nine in ten",
            x_label=f"{_RESIDUAL} (right: slower than fitted)",
            rows=tuple(
                ChartRow(
                    label=measures.said(run.name), value=run.score, colour=order.index(run.build)
                )
                for run in outcome.runs
            ),
            band=(-NINE_IN_TEN, NINE_IN_TEN),
            lines=((0.0, ""),),
        )
    )
    by_speed = _by_speed(outcome, order, measures)
    if len({round(mark.x, 1) for mark in by_speed.marks}) > 2:
        charts.append(by_speed)
    return (*charts, *_predictions(outcome, order, measures))


def _figures(outcome: Outcome) -> list[Chart]:
    charts = []
    for name, title, unit, decimals, field in (
        ("CdA", "Drag area CdA", "m²", 4, "cda_m2"),
        ("Crr", "Rolling coefficient Crr", "", 5, "crr"),
    ):
        rows = []
        for i, build in enumerate(outcome.builds):
            quantity: Uncertain = getattr(build, field)
            if name in build.hardly_told and quantity.sd > abs(quantity.value):
                continue
            half = NINE_IN_TEN * quantity.sd
            rows.append(
                ChartRow(
                    label=build.tested.name,
                    value=quantity.value,
                    low=quantity.value - half,
                    high=quantity.value + half,
                    colour=i,
                    text=give_or_take(quantity.value, quantity.sd, decimals),
                )
            )
        label = f"{title}, {unit}" if unit else title
        if rows:
            charts.append(
                Chart(title=f"{title}; bars hold nine in ten", x_label=label, rows=tuple(rows))
            )
    return charts


def _together(told: list[tuple[int, BuildFigures]]) -> Scatter:
    """Outlines that hold nine in ten of both figures at once: their slant is the correlation."""
    outlines = []
    for i, build in told:
        r = build.correlation
        turns = [2.0 * math.pi * k / _N_OUTLINE for k in range(_N_OUTLINE + 1)]
        along = [NINE_IN_TEN_OF_TWO * math.cos(turn) for turn in turns]
        across = [
            r * a + math.sqrt(max(1.0 - r * r, 0.0)) * NINE_IN_TEN_OF_TWO * math.sin(turn)
            for a, turn in zip(along, turns, strict=True)
        ]
        outlines.append(
            Outline(
                xs=tuple(build.cda_m2.value + a * build.cda_m2.sd for a in along),
                ys=tuple(build.crr.value + b * build.crr.sd for b in across),
                colour=i,
                label=build.tested.name,
            )
        )
    return Scatter(
        title="Both figures at once; outlines hold nine in ten: more of one goes with less of the "
        "other",
        x_label="Drag area CdA, m²",
        y_label="Crr",
        marks=tuple(Mark(x=b.cda_m2.value, y=b.crr.value, colour=i) for i, b in told),
        outlines=tuple(outlines),
    )


def _by_speed(outcome: Outcome, order: list[str], measures: Measures) -> Scatter:
    """Residuals over speed: a slope in them means that the split into CdA and Crr is off."""
    marks = []
    for leg, run in zip(outcome.fit.problem.legs, outcome.runs, strict=True):
        if run.is_stop:
            continue
        speed = leg.length_m / run.measured / measures.mps_per_speed
        marks.append(Mark(x=speed, y=run.score, colour=order.index(run.build)))
    return Scatter(
        title="The same over speed; a slope would mean air that the model does not have",
        x_label=f"Mean speed of the run, {measures.speed_unit}",
        y_label=_RESIDUAL.replace(", ", ",\n"),
        marks=tuple(marks),
        band=(-NINE_IN_TEN, NINE_IN_TEN),
    )


def _predictions(outcome: Outcome, order: list[str], measures: Measures) -> list[Chart]:
    """Measured minus predicted time of each piece that the fit had not seen."""
    builds = {reading.run.name: reading.run.build.name for reading in outcome.readings}
    charts = []
    for part in outcome.held_out:
        rows = []
        for piece in part.pieces:
            off_s, half_s = piece.measured_s - piece.predicted_s, NINE_IN_TEN * piece.sd_s
            rows.append(
                ChartRow(
                    label=measures.said(piece.name),
                    value=off_s,
                    low=off_s - half_s,
                    high=off_s + half_s,
                    colour=order.index(builds[part.run]),
                )
            )
        charts.append(
            Chart(
                title=f"Second half of run {part.run}, predicted without it; bars hold nine in ten",
                x_label="Measured minus predicted, s (a bar that holds 0 is a good prediction)",
                rows=tuple(rows),
                lines=((0.0, ""),),
            )
        )
    return charts

"""`Outcome` of a test day -> view: figures of each build, differences, runs, questions."""

from __future__ import annotations

from simulator.fieldtest import CAUTIONS, Outcome
from simulator.report import words
from simulator.report.fieldtest_view import (
    AnswerView,
    Chart,
    ChartRow,
    give_or_take,
    signed_small,
    text_table,
)
from simulator.report.tables import Table
from simulator.report.views import NoteView
from simulator.setup import Uncertain

NINE_IN_TEN = 1.645
"""Standard deviations either way that hold nine in ten of a bell curve."""

_SHARED_NOTE = (
    "Efficiency, bearings and wheels were taken as the builds' files state them; an error in them "
    "ends up in CdA and Crr. Uncertainties are standard uncertainties."
)
_TOLD = "± is one standard uncertainty"


def make_outcome_view(outcome: Outcome) -> AnswerView:
    """What is shown of a test day."""
    builds = outcome.builds
    n_runs = len({run.number for run in outcome.runs})
    fit = outcome.fit
    notes = [NoteView(level="caution", text=text) for text in CAUTIONS]
    notes += [NoteView(level="doubt", text=text) for text in outcome.questions]
    for build in builds:
        notes += [NoteView(level="doubt", text=f"{text}.") for text in build.doubts]
        for name in build.hardly_told:
            whose = f"{name} of {build.tested.name}"
            text = f"These runs hardly tell the {whose}: more runs, or runs of another kind, would."
            notes.append(NoteView(level="doubt", text=text))
    for run in outcome.runs:
        notes += [NoteView(level="doubt", text=f"Run {run.name}: {text}.") for text in run.doubts]
    notes += _repairs(outcome)
    notes.append(NoteView(level="note", text=_SHARED_NOTE))
    return AnswerView(
        kind="fieldtest-infer",
        title=f"Field test: {outcome.day.name}",
        eyebrow=f"{outcome.day.name} · {words.plural(n_runs, 'run')} · "
        f"{words.plural(len(builds), 'build')}",
        sentence=_sentence(outcome),
        more=(
            f"The runs agree with the model as well as stated scatter lets expect: chi² "
            f"{words.number(fit.chi2, 1)} for {fit.n_observations} measurements "
            f"(chance {words.number(fit.chance, 2)})."
            if fit.inflation == 1.0
            else f"The runs scatter more than stated: chi² {words.number(fit.chi2, 1)} for "
            f"{fit.n_observations} measurements.",
            *_held_out_sentence(outcome),
        ),
        tables=tuple(_tables(outcome)),
        charts=tuple(_charts(outcome)),
        notes=tuple(notes),
        figures=_figures(outcome),
    )


def _sentence(outcome: Outcome) -> str:
    if not outcome.differences:
        build = outcome.builds[0]
        return (
            f"{build.tested.name} has a CdA of "
            f"{give_or_take(build.cda_m2.value, build.cda_m2.sd, 3)} m² and a Crr of "
            f"{give_or_take(build.crr.value, build.crr.sd, 4)}."
        )
    parts = []
    for difference in outcome.differences:
        cda, crr = difference.cda_m2, difference.crr
        told = []
        for quantity, name, unit, decimals in ((cda, "CdA", " m²", 3), (crr, "Crr", "", 4)):
            size = give_or_take(abs(quantity.value), quantity.sd, decimals)
            way = "more" if quantity.value > 0.0 else "less"
            sure = "" if abs(quantity.value) > 2.0 * quantity.sd else " (not told apart)"
            told.append(f"{size}{unit} {way} {name}{sure}")
        parts.append(f"{difference.other} has {told[0]} and {told[1]} than {difference.first}")
    return "; ".join(parts) + "."


def _held_out_sentence(outcome: Outcome) -> list[str]:
    held = outcome.held_out
    if not held:
        return []
    inside = sum(abs(h.measured_s - h.predicted_s) <= NINE_IN_TEN * h.sd_s for h in held)
    off = sum(h.predicted_s - h.measured_s for h in held)
    return [
        f"A fit without the second half of the free ride predicts its {len(held)} pieces: {inside} "
        f"lie inside the interval that should hold nine in ten; the sum is off by "
        f"{signed_small(off, 1)} s."
    ]


def _tables(outcome: Outcome) -> list[Table]:
    tables = [
        text_table(
            "figures",
            f"What the runs say about each build; {_TOLD}",
            ("Build", "CdA, m²", "Crr", "Correlation"),
            [
                (
                    b.tested.name,
                    give_or_take(b.cda_m2.value, b.cda_m2.sd, 4),
                    give_or_take(b.crr.value, b.crr.sd, 5),
                    words.number(b.correlation, 2),
                )
                for b in outcome.builds
            ],
        )
    ]
    if outcome.differences:
        tables.append(
            text_table(
                "differences",
                f"Differences, with what both builds share cancelled; {_TOLD}",
                ("Minus the first", "CdA, m²", "Crr", "Correlation"),
                [
                    (
                        f"{d.other} − {d.first}",
                        give_or_take(d.cda_m2.value, d.cda_m2.sd, 4, is_signed=True),
                        give_or_take(d.crr.value, d.crr.sd, 5, is_signed=True),
                        words.number(d.correlation, 2),
                    )
                    for d in outcome.differences
                ],
            )
        )
    tables.append(
        text_table(
            "runs",
            "Each run: measured, fitted (s, or m for a stop), off by how many of its own doubts, "
            "and how far the result would move without it (in its uncertainty)",
            ("Run", "Measured", "Fitted", "Off", "CdA moves", "Crr moves"),
            [
                (
                    run.name,
                    words.number(run.measured, 1),
                    words.number(run.fitted, 1),
                    signed_small(run.score, 1),
                    signed_small(run.pull_cda, 1),
                    signed_small(run.pull_crr, 1),
                )
                for run in outcome.runs
            ],
        )
    )
    if outcome.held_out:
        tables.append(
            text_table(
                "held-out",
                "Pieces of the free ride that a fit without them predicts, s",
                ("Piece", "Measured", "Predicted", "Off"),
                [
                    (
                        held.name,
                        words.number(held.measured_s, 1),
                        give_or_take(held.predicted_s, held.sd_s, 1),
                        signed_small(held.measured_s - held.predicted_s, 1),
                    )
                    for held in outcome.held_out
                ],
            )
        )
    stretches = [
        (f"run {r.run.number}", f"{s.start_s:.0f} to {s.end_s:.0f} s", s.reason or "used")
        for r in outcome.readings
        for s in r.stretches
    ]
    if stretches:
        tables.append(
            text_table(
                "stretches",
                "Stretches of free rides, used and left out, in s from the first gate",
                ("Run", "When*", "What*"),
                [tuple(row) for row in stretches],
            )
        )
    tables.append(_unknowns(outcome))
    return tables


def _unknowns(outcome: Outcome) -> Table:
    fit = outcome.fit
    shown = [
        i
        for i, p in enumerate(fit.problem.parameters)
        if p.role not in ("cda", "crr", "wind_east", "wind_north", "start")
    ]
    return text_table(
        "unknowns",
        f"What else was fitted, before and after the runs (winds and start speeds are in the "
        f"JSON); {_TOLD}",
        ("Unknown", "Before", "After"),
        [
            (
                f"{p.label}, {p.unit}" if p.unit else p.label,
                give_or_take(p.before, p.before_sd, 3),
                give_or_take(float(fit.values[i]), float(fit.sds[i]), 3),
            )
            for i in shown
            for p in (fit.problem.parameters[i],)
        ],
    )


def _charts(outcome: Outcome) -> list[Chart]:
    order = [b.tested.name for b in outcome.builds]
    charts = []
    for title, unit, decimals, field in (
        ("Drag area CdA", "m²", 4, "cda_m2"),
        ("Rolling coefficient Crr", "", 5, "crr"),
    ):
        rows = []
        for i, build in enumerate(outcome.builds):
            quantity: Uncertain = getattr(build, field)
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
        charts.append(
            Chart(title=f"{title}; bars hold nine in ten", x_label=label, rows=tuple(rows))
        )
    charts.append(
        Chart(
            title="How well each run agrees",
            x_label="Measured minus fitted, in the run's own doubt (right: slower than fitted)",
            rows=tuple(
                ChartRow(label=run.name, value=run.score, colour=order.index(run.build))
                for run in outcome.runs
            ),
            band=(-NINE_IN_TEN, NINE_IN_TEN),
            lines=((0.0, ""),),
        )
    )
    return charts


def _repairs(outcome: Outcome) -> list[NoteView]:
    notes = []
    for reading in outcome.readings:
        if reading.repairs:
            text = f"Recording of run {reading.run.number}: " + "; ".join(reading.repairs) + "."
            notes.append(NoteView(level="note", text=text))
    return notes


def _figures(outcome: Outcome) -> dict[str, object]:
    fit = outcome.fit
    return {
        "builds": [
            {
                "name": b.tested.name,
                "cda_m2": b.cda_m2,
                "crr": b.crr,
                "correlation": b.correlation,
                "hardly_told": b.hardly_told,
            }
            for b in outcome.builds
        ],
        "differences": outcome.differences,
        "runs": outcome.runs,
        "held_out": outcome.held_out,
        "stretches": [
            {"run": r.run.number, "start_s": s.start_s, "end_s": s.end_s, "left_out_for": s.reason}
            for r in outcome.readings
            for s in r.stretches
        ],
        "unknowns": [
            {"label": p.label, "unit": p.unit, "before": p.before, "before_sd": p.before_sd,
             "value": float(v), "sd": float(s)}
            for p, v, s in zip(fit.problem.parameters, fit.values, fit.sds, strict=True)
        ],
        "covariance": fit.covariance,
        "chi2": fit.chi2,
        "n_measurements": fit.n_observations,
        "chance": fit.chance,
        "inflation": fit.inflation,
    }  # fmt: skip

"""`Outcome` of a test day -> view: figures of each build, differences, runs, questions."""

from __future__ import annotations

from simulator.fieldtest import CAUTIONS, BuildFigures, Outcome, repairs_told_once
from simulator.measures import METRIC, Measures
from simulator.report import words
from simulator.report.fieldtest_charts import NINE_IN_TEN, outcome_charts
from simulator.report.fieldtest_headline import headline
from simulator.report.fieldtest_view import (
    AnswerView,
    give_or_take,
    signed_small,
    text_table,
)
from simulator.report.tables import Table
from simulator.report.views import NoteView
from simulator.units import clock

_SHARED_NOTE = (
    "Efficiency, bearings and wheels were taken as the builds' files state them; an error in them "
    "ends up in CdA and Crr. Uncertainties are standard uncertainties."
)
_RESTS_ON = 8.0
_HELD_OUT_APART = 2
"""More free rides than this are told together."""
_TOLD = 0.7
"""Share of the doubt beforehand that must be left, at most, for a figure to come from the runs."""
_ONE_SD = "± is one standard uncertainty"


def make_outcome_view(outcome: Outcome, measures: Measures = METRIC) -> AnswerView:
    """What is shown of a test day."""
    builds = outcome.builds
    n_runs = len({run.number for run in outcome.runs})
    fit = outcome.fit
    notes = [NoteView(level="caution", text=text) for text in CAUTIONS]
    said = measures.said
    notes += [NoteView(level="doubt", text=said(text)) for text in outcome.questions]
    for build in builds:
        notes += [NoteView(level="doubt", text=f"{said(text)}.") for text in build.doubts]
        # Of one build alone the headline says it.
        for name in build.hardly_told if outcome.differences else ():
            whose = f"{name} of {build.tested.name}"
            text = f"These runs hardly tell the {whose}: more runs, or runs of another kind, would."
            notes.append(NoteView(level="doubt", text=text))
    notes += [NoteView(level="doubt", text=text) for text in _run_doubts(outcome, measures)]
    notes += _repairs(outcome, measures)
    notes.append(NoteView(level="note", text=_SHARED_NOTE))
    return AnswerView(
        kind="fieldtest-infer",
        title=f"Field test: {outcome.day.name}",
        eyebrow=f"{outcome.day.name} · {words.plural(n_runs, 'run')} · "
        f"{words.plural(len(builds), 'build')}",
        sentence=headline(outcome),
        more=(
            f"The runs agree with the model as well as stated scatter lets expect: chi² "
            f"{words.number(fit.chi2, 1)} for {fit.n_observations} measurements "
            f"(chance {words.number(fit.chance, 2)})."
            if fit.inflation == 1.0
            else f"The runs scatter more than stated: chi² {words.number(fit.chi2, 1)} for "
            f"{fit.n_observations} measurements.",
            *_meter_sentence(outcome),
            *_held_out_sentence(outcome),
        ),
        tables=tuple(_tables(outcome, measures)),
        charts=outcome_charts(outcome, measures),
        notes=tuple(notes),
        figures=_figures(outcome),
        measures=measures,
        in_si=None if measures is METRIC else make_outcome_view(outcome),
    )


def _run_doubts(outcome: Outcome, measures: Measures) -> list[str]:
    """What is odd about runs; pieces of a free ride are told together."""
    said = measures.said
    doubts = []
    for reading in outcome.readings:
        rows = [run for run in outcome.runs if run.number == reading.run.number]
        doubts += [f"Run {reading.run.name}: {said(text)}." for text in reading.doubts]
        if reading.run.written.kind != "free":
            doubts += [f"Run {run.name}: {said(text)}." for run in rows for text in run.oddities]
            continue
        odd = [run for run in rows if run.oddities]
        if odd:
            worst = max(odd, key=lambda run: abs(run.score))
            doubts.append(
                f"Run {reading.run.name}: {len(odd)} of its {len(rows)} pieces do not fit the "
                f"others, above all {said(worst.name)}: {said(worst.oddities[0])}."
            )
    return doubts


def _meter_sentence(outcome: Outcome) -> list[str]:
    """By how much the power meter is off, where these runs tell it."""
    fit = outcome.fit
    try:
        i = fit.index("scale", "")
    except KeyError:
        return []
    off, sd, before_sd = fit.values[i] - 1.0, fit.sds[i], fit.problem.parameters[i].before_sd
    if sd > _TOLD * before_sd or abs(off) <= 2.0 * sd:
        return []
    return [
        f"The power meter shows {words.number(100.0 * abs(off), 1)} % too "
        f"{'much' if off > 0.0 else 'little'} (± {words.number(100.0 * sd, 1)} %, one standard "
        "uncertainty). CdA and Crr allow for that; the watts in your other files do not."
    ]


def _held_out_sentence(outcome: Outcome) -> list[str]:
    lines = []
    if len(outcome.held_out) > _HELD_OUT_APART:
        return [_many_held_out(outcome)]
    for part in outcome.held_out:
        n = len(part.pieces)
        inside = sum(abs(p.measured_s - p.predicted_s) <= NINE_IN_TEN * p.sd_s for p in part.pieces)
        off_s = part.measured_s - part.predicted_s
        way = "more" if off_s > 0.0 else "less"
        lines.append(
            f"A fit without the second half of run {part.run} predicts "
            f"{words.stopwatch(part.predicted_s)} ± {words.number(NINE_IN_TEN * part.sd_s, 0)} s "
            f"(nine in ten) for it; it took {words.stopwatch(part.measured_s)}, "
            f"{words.number(abs(off_s), 1)} s {way}. {inside} of its {n} pieces lie inside their "
            "intervals."
        )
    return lines


def _many_held_out(outcome: Outcome) -> str:
    """All free rides in one sentence; each piece stands in the table."""
    parts = outcome.held_out
    pieces = [piece for part in parts for piece in part.pieces]
    inside = sum(abs(p.measured_s - p.predicted_s) <= NINE_IN_TEN * p.sd_s for p in pieces)
    halves = sum(abs(p.measured_s - p.predicted_s) <= NINE_IN_TEN * p.sd_s for p in parts)
    worst = max(parts, key=lambda part: abs(part.measured_s - part.predicted_s))
    off_s = worst.measured_s - worst.predicted_s
    return (
        f"Each of {len(parts)} free rides was predicted in its second half by a fit without that "
        f"half: {halves} of these times lie inside their intervals (nine in ten), {inside} of "
        f"{len(pieces)} pieces do; furthest off is run {worst.run}, by "
        f"{words.number(abs(off_s), 1)} s in {words.stopwatch(worst.measured_s)}."
    )


def _told(build: BuildFigures, name: str, decimals: int) -> str:
    """A figure with its doubt; one that is all doubt is not told."""
    quantity = build.cda_m2 if name == "CdA" else build.crr
    if name in build.hardly_told and quantity.sd > abs(quantity.value):
        return "not told"
    return give_or_take(quantity.value, quantity.sd, decimals)


def _measured(value: float, *, is_stop: bool, measures: Measures) -> str:
    """What a run measured: a time, or how far a roll-down went until it stood."""
    return measures.height(value, 1) if is_stop else words.stopwatch(value)


def _tables(outcome: Outcome, measures: Measures) -> list[Table]:
    tables = [
        text_table(
            "figures",
            f"What the runs say about each build; {_ONE_SD}",
            ("Build", "CdA, m²", "Crr", "Correlation~"),
            [
                (
                    b.tested.name,
                    _told(b, "CdA", 4),
                    _told(b, "Crr", 5),
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
                f"Differences, with what both builds share cancelled; {_ONE_SD}",
                ("Builds", "CdA, m²", "Crr", "Correlation~"),
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
            "Each run: measured, fitted (time, or way to a stop) with its wind as noted, off by "
            "how many of its own doubts, and by how much CdA and Crr would move without it (in "
            "their uncertainty)",
            ("Run", "Measured", "Fitted", "Off", "CdA by~", "Crr by~"),
            [
                (
                    measures.said(run.name),
                    _measured(run.measured, is_stop=run.is_stop, measures=measures),
                    _measured(run.fitted, is_stop=run.is_stop, measures=measures),
                    signed_small(run.score, 1),
                    _pull(run.pull_cda),
                    _pull(run.pull_crr),
                )
                for run in outcome.runs
            ],
        )
    )
    if outcome.held_out:
        tables.append(
            text_table(
                "held-out",
                "Pieces of the free ride that a fit without them predicts; ± and off in seconds",
                ("Piece", "Measured", "Predicted", "Off"),
                [
                    (
                        measures.said(held.name),
                        words.stopwatch(held.measured_s),
                        f"{words.stopwatch(held.predicted_s)} ± {words.number(held.sd_s, 1)}",
                        signed_small(held.measured_s - held.predicted_s, 1),
                    )
                    for part in outcome.held_out
                    for held in part.pieces
                ],
            )
        )
    stretches = [
        (
            f"run {r.run.number}",
            f"{clock(s.start_s)} to {clock(s.end_s)}",
            measures.said(s.reason) or "used",
        )
        for r in outcome.readings
        for s in r.stretches
    ]
    if stretches:
        tables.append(
            text_table(
                "stretches",
                "Stretches of free rides, used and left out, on the clock from the first gate",
                ("Run", "When*", "What*"),
                [tuple(row) for row in stretches],
            )
        )
    tables.append(_unknowns(outcome, measures))
    return tables


def _pull(moved: float) -> str:
    """How far a figure moves; one that nothing else tells rests on the run."""
    return "rests on it" if abs(moved) > _RESTS_ON else signed_small(moved, 1)


def _unknowns(outcome: Outcome, measures: Measures) -> Table:
    fit = outcome.fit

    def row(label: str, unit: str, *figures: float) -> tuple[str, str, str]:
        if unit == "kg":
            unit, figures = measures.mass_unit, tuple(x / measures.kg_per_mass for x in figures)
        before, before_sd, value, sd = figures
        return (
            f"{label}, {unit}" if unit else label,
            give_or_take(before, before_sd, 3),
            give_or_take(value, sd, 3),
        )

    shown = [
        i
        for i, p in enumerate(fit.problem.parameters)
        if p.role not in ("cda", "crr", "wind_east", "wind_north", "start", "rise")
    ]
    return text_table(
        "unknowns",
        f"What else was fitted, before and after the runs (winds and start speeds are in the "
        f"JSON); {_ONE_SD}",
        ("Unknown", "Before", "After"),
        [
            row(
                measures.said(p.label),
                p.unit,
                p.before,
                p.before_sd,
                float(fit.values[i]),
                float(fit.sds[i]),
            )
            for i in shown
            for p in (fit.problem.parameters[i],)
        ],
    )


def _repairs(outcome: Outcome, measures: Measures) -> list[NoteView]:
    told = repairs_told_once((reading.run, reading.repairs) for reading in outcome.readings)
    return [NoteView(level="note", text=f"{words.capital(measures.said(text))}.") for text in told]


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

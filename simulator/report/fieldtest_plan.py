"""`RunPlan` -> view: how many runs of which kind, and in which order."""

from __future__ import annotations

from operator import attrgetter

from simulator.fieldtest import CAUTIONS, Plan, RunPlan
from simulator.measures import METRIC, Measures
from simulator.report import words
from simulator.report.fieldtest_view import AnswerView, Chart, ChartRow, signed_small, text_table
from simulator.report.views import NoteView

_FOUND_SCORE = 3.24
"""Difference over its standard error that is found nine times in ten at the 5 % level."""

_MOST_PLANS = 8
_OPEN = {4: 0.2, 5: 0.02}
"""Decimals of a figure (CdA 4, Crr 5) -> standard error from which on it is left open."""
_SCALE_NOTE = (
    "No option is unpowered: a power meter's scale cannot be told from CdA, Crr and mass together. "
    "Add a coast or roll-down of known mass if absolute figures matter."
)


def make_plan_view(plan: RunPlan, measures: Measures = METRIC) -> AnswerView:
    """What is shown of a plan of runs."""
    notes = [NoteView(level="caution", text=text) for text in CAUTIONS]
    if not plan.has_unpowered:
        notes.append(NoteView(level="doubt", text=_SCALE_NOTE))
    notes.append(
        NoteView(
            level="note",
            text="Runs are counted over both builds and all kinds of a mix, in sets of A B B A of "
            "each kind; “more” is more than the plan's `most_runs`. Found means: at the 5 % "
            "level, nine times in ten.",
        )
    )
    shown = plan.plans[:_MOST_PLANS]
    return AnswerView(
        kind="fieldtest-runs",
        title=f"Runs needed: {plan.name}",
        eyebrow=f"{plan.name} · {plan.other} against {plan.first}",
        sentence=_sentence(plan),
        more=tuple(_more(plan)),
        tables=(
            text_table(
                "plans",
                "Mixes of runs, the fewest runs first: standard error of the differences after one "
                "and four sets of A B B A of each kind, and runs needed to find each; the letters "
                "are those of the kinds of run below; open: such runs alone do not tell it",
                (
                    "Mix",
                    "CdA, 1~",
                    "4 sets~",
                    "Crr, 1~",
                    "4 sets~",
                    "For CdA",
                    "Crr",
                    "Both",
                ),
                [
                    (
                        _mix(plan, p),
                        _doubt(p.cda_sds[0], 4),
                        _doubt(p.cda_sds[2], 4),
                        _doubt(p.crr_sds[0], 5),
                        _doubt(p.crr_sds[2], 5),
                        _runs(p.cda_runs),
                        _runs(p.crr_runs),
                        _runs(p.both_runs),
                    )
                    for p in shown
                ],
            ),
            text_table(
                "options",
                f"What one run feels, for {plan.first}: seconds for 0.01 m² of CdA and for 0.0005 "
                "of Crr, and its own scatter",
                ("Kind of run", "Time", "0.01 m²", "0.0005 Crr", "Scatter~"),
                [
                    (
                        f"{_letter(i)}  {a.name}",
                        words.stopwatch(a.time_s),
                        signed_small(0.01 * a.per_cda_s, 2),
                        signed_small(0.0005 * a.per_crr_s, 2),
                        words.number(a.sd_s, 2),
                    )
                    for i, a in enumerate(plan.answers)
                ],
            ),
            text_table(
                "orders",
                "What wind that drifts evenly adds to the difference, in drift from run to run",
                ("Order", "Adds"),
                [(" ".join(o.order), signed_small(o.bias, 1)) for o in plan.orders],
            ),
        ),
        charts=_charts(plan, shown),
        notes=tuple(notes),
        legend="; ".join(f"{_letter(i)} {a.name}" for i, a in enumerate(plan.answers)),
        figures={
            "first": plan.first,
            "other": plan.other,
            "cda_difference_m2": plan.cda_difference_m2,
            "crr_difference": plan.crr_difference,
            "plans": plan.plans,
            "options": plan.answers,
            "orders": plan.orders,
        },
        measures=measures,
        in_si=None if measures is METRIC else make_plan_view(plan),
    )


def _letter(i: int) -> str:
    return chr(ord("a") + i % 26)


def _mix(plan: RunPlan, mix: Plan) -> str:
    names = [answer.name for answer in plan.answers]
    return " + ".join(_letter(names.index(name)) for name in mix.options)


def _doubt(sd: float, decimals: int) -> str:
    """A standard error; one far beyond what any two bicycles differ by is no figure."""
    return "open" if sd > _OPEN[decimals] else words.number(sd, decimals)


def _runs(n: int | None) -> str:
    return "more" if n is None else str(n)


def _best(plan: RunPlan) -> list[tuple[str, Plan | None, int | None]]:
    """For CdA and for Crr, where they differ: the mix that finds it in the fewest runs."""
    best = []
    for name, difference, field in (
        ("CdA", plan.cda_difference_m2, "cda_runs"),
        ("Crr", plan.crr_difference, "crr_runs"),
    ):
        found = [p for p in plan.plans if getattr(p, field) is not None]
        mix = min(found, key=attrgetter(field), default=None)
        if difference != 0.0:
            best.append((name, mix, None if mix is None else getattr(mix, field)))
    return best


def _sentence(plan: RunPlan) -> str:
    pair = f"{plan.other} and {plan.first}"
    best = _best(plan)
    if not best:
        return (
            f"{pair} have the same CdA and Crr in their files: there is no "
            "difference that runs could find."
        )
    n_both = plan.plans[0].both_runs
    if n_both is not None and len(best) > 1:
        return f"It takes {n_both} runs to tell {pair} apart in CdA and in Crr."
    told = [f"{n} runs to tell {pair} apart in {name}" for name, _, n in best if n is not None]
    if len(told) > 1:
        (_, _, n_cda), (_, _, n_crr) = best
        return f"It takes {n_cda} runs to tell {pair} apart in CdA, and {n_crr} in Crr."
    missed = " or ".join(name for name, _, n in best if n is None)
    limit = f"no mix within the limit tells {'them' if told else pair} apart in {missed}"
    if not told:
        return f"{words.capital(limit)}."
    return f"It takes {told[0]}{f'; {limit}' if missed else ''}."


def _more(plan: RunPlan) -> list[str]:
    cda, crr = signed_small(plan.cda_difference_m2, 3), signed_small(plan.crr_difference, 4)
    lines = [
        f"By their files {plan.other} differs from {plan.first} by {cda} m² of CdA and {crr} of "
        "Crr; runs are those of both builds together, and find a difference nine times in ten."
    ]
    best = [(name, mix) for name, mix, _ in _best(plan) if mix is not None]
    if len(best) > 1 and plan.plans[0].both_runs is not None:
        best = [("both", plan.plans[0])]
    lines += [f"For {name}, ride these: {_listed(mix.options)}." for name, mix in best]
    return [*lines, *_habits(plan)]


def _listed(names: tuple[str, ...]) -> str:
    """``a, b and c``."""
    *rest, last = names
    return f"{', '.join(rest)} and {last}" if rest else last


def _habits(plan: RunPlan) -> list[str]:
    order = next(o for o in plan.orders if o.order == "AABB")
    return [
        "Ride them in the order A B B A: wind that drifts evenly cancels; A A B B would add "
        f"{order.bias:g} times the drift from run to run.",
        "Set the meter's zero in the same way after every move of it.",
    ]


def _charts(plan: RunPlan, shown: tuple[Plan, ...]) -> tuple[Chart, ...]:
    charts = []
    for title, unit, difference, decimals, field in (
        ("CdA", "m²", plan.cda_difference_m2, 4, "cda_sds"),
        ("Crr", "", plan.crr_difference, 5, "crr_sds"),
    ):
        label = f"Standard error of the difference in {title}" + (f", {unit}" if unit else "")
        rows = []
        for mix in shown:
            sds: tuple[float, ...] = getattr(mix, field)
            rows.append(
                ChartRow(
                    label=_mix(plan, mix),
                    value=sds[2],
                    low=sds[3],
                    high=sds[0],
                    text=_doubt(sds[2], decimals),
                )
            )
        found = abs(difference) / _FOUND_SCORE
        charts.append(
            Chart(
                title=f"{title}: after four sets of A B B A of each kind (bar: one to eight sets)",
                x_label=label,
                rows=tuple(rows),
                lines=((found, "found below"),),
                most=max(4.0 * found, 1.2 * min(r.value for r in rows)) if found > 0.0 else None,
            )
        )
    return tuple(charts)

"""`Verdict` -> view: observed against predicted, and what would explain the rest."""

from __future__ import annotations

import math

from simulator.fieldtest import CAUTIONS, ClimbGap, Explanation, Need, Verdict
from simulator.measures import METRIC, Measures
from simulator.report import words
from simulator.report.fieldtest_charts import NINE_IN_TEN
from simulator.report.fieldtest_view import AnswerView, Chart, ChartRow, signed_small, text_table
from simulator.report.tables import Table
from simulator.report.views import NoteView

Told = tuple[str, str, int, float]
"""Name, unit and decimals of an explanation, and shown size over that in the result."""


def explanation_words(kind: str, measures: Measures) -> Told:
    """How an explanation is told."""
    told: dict[str, Told] = {
        "mass": ("Mass", measures.mass_unit, 2, 1.0 / measures.kg_per_mass),
        "air": ("CdA", "m²", 3, 1.0),
        "rolling": ("Crr", "", 4, 1.0),
        "power": ("Power meter", "%", 1, 1.0),
        "wind": (
            f"Head wind at {measures.height(10.0)}",
            measures.speed_unit,
            1,
            1.0 / measures.mps_per_speed,
        ),
        "one run": ("One run alone", "s", 1, 1.0),
    }
    return told[kind]


_WAYS = {
    "mass": ("heavier", "lighter"),
    "air": ("more CdA", "less CdA"),
    "rolling": ("more Crr", "less Crr"),
    "power": ("a meter that shows too much", "a meter that shows too little"),
    "wind": ("more head wind", "less head wind"),
    "one run": ("a slow run", "a quick run"),
}
_MOST_TIMES = 12.0


def make_verdict_view(verdict: Verdict, measures: Measures = METRIC) -> AnswerView:
    """What is shown of a verdict."""
    climbs = verdict.climbs
    notes = [
        NoteView(level="caution", text=CAUTIONS[1]),
        NoteView(level="caution", text=CAUTIONS[2]),
        NoteView(
            level="note",
            text="Sizes are errors of the other build's runs against the first one's. How large an "
            "error usually is stands in the file under [believable]; up to 1.6 times that is "
            "called believable, up to 2.6 times a stretch.",
        ),
        NoteView(
            level="note",
            text=f"Scatter of a run by itself: {words.percent(verdict.scatter, 1)} of its time, as "
            "stated. Unchanged set-ups repeat a climb of three minutes within one or two seconds "
            "(common practice, no source).",
        ),
    ]
    return AnswerView(
        kind="fieldtest-verdict",
        title=f"Verdict: {verdict.name}",
        eyebrow=f"{verdict.name} · {verdict.other.name} against {verdict.first.name}",
        sentence=_sentence(verdict),
        more=tuple(_more(verdict, measures)),
        tables=(
            text_table(
                "gaps",
                f"Gap of {verdict.other.name} in seconds; ± is one standard uncertainty",
                (
                    "Stretch",
                    "Grade~",
                    "Runs~",
                    "Observed",
                    "Predicted",
                    "Rest",
                    "Score~",
                    "Chance~",
                ),
                [
                    (
                        c.name,
                        words.percent(c.grade, 1),
                        f"{c.n_first} + {c.n_other}",
                        f"{words.signed(c.observed.value)} ± {words.number(c.observed.sd, 1)}",
                        f"{words.signed(c.predicted.value)} ± {words.number(c.predicted.sd, 1)}",
                        words.signed(c.unexplained_s),
                        words.signed(c.score),
                        _chance(c.chance),
                    )
                    for c in climbs
                ],
            ),
            text_table(
                "needs",
                "How large an error on each stretch would explain what is left over there, with "
                "the interval that holds nine in ten",
                ("Explanation", "Stretch*", "Needed", "Nine in ten*"),
                [row for e in verdict.explanations for row in _needs_rows(e, measures)],
            ),
            text_table(
                "explanations",
                "Explanations, least far-fetched first: the size that suits all stretches best, "
                "its usual size, and how many times that it is",
                ("Explanation", "For all", "Usual", "Times", "Believable?*"),
                [_explanation_row(e, measures) for e in verdict.explanations],
            ),
            *_next_table(verdict, measures),
        ),
        charts=_charts(verdict, measures),
        notes=tuple(notes),
        figures={
            "first": verdict.first.name,
            "other": verdict.other.name,
            "climbs": [
                {
                    "name": c.name, "length_m": c.length_m, "grade": c.grade,
                    "n_first": c.n_first, "n_other": c.n_other,
                    "observed_s": c.observed, "predicted_s": c.predicted,
                    "unexplained_s": c.unexplained_s, "score": c.score, "chance": c.chance,
                }
                for c in climbs
            ],
            "explanations": verdict.explanations,
            "next_run": verdict.next_run,
            "is_expected": verdict.is_expected,
        },
        measures=measures,
        in_si=None if measures is METRIC else make_verdict_view(verdict),
    )  # fmt: skip


def _chance(chance: float) -> str:
    return "below 0.001" if chance < 0.001 else words.number(chance, 3 if chance < 0.1 else 2)


def _gap_words(climb: ClimbGap) -> str:
    return words.signed_seconds(climb.observed.value, 1)


def _sentence(verdict: Verdict) -> str:
    other = verdict.other.name
    odd = [climb for climb in verdict.climbs if not climb.is_expected]
    gaps = " and ".join(f"{_gap_words(c)} on {c.name}" for c in verdict.climbs)
    if not odd:
        predicted = " and ".join(
            f"{words.signed_seconds(c.predicted.value, 1)} ± "
            f"{words.number(NINE_IN_TEN * c.sd_s, 1)}"
            for c in verdict.climbs
        )
        return (
            f"{other}'s {gaps} is what its known differences predict ({predicted}, nine in ten, "
            "scatter of the runs included)."
        )
    worst = max(odd, key=lambda climb: abs(climb.score))
    way = "more" if worst.unexplained_s > 0.0 else "less"
    return (
        f"{other}'s {_gap_words(worst)} on {worst.name} is "
        f"{words.number(abs(worst.unexplained_s), 1)} s {way} than its known differences predict, "
        f"which chance alone does {_once_in(worst.chance)}{_what_now(verdict, worst)}."
    )


def _chance_lines(verdict: Verdict) -> list[str]:
    """What was predicted, and why chance and one run alone are not the same."""
    worst = max(verdict.climbs, key=lambda climb: abs(climb.score))
    one_run = next(e for e in verdict.explanations if e.kind == "one run")
    predicted = words.signed_seconds(worst.predicted.value, 1)
    return [
        f"Predicted are {predicted} ± {words.number(NINE_IN_TEN * worst.sd_s, 1)} s on "
        f"{worst.name} (nine in ten), from the doubt of the builds' figures and the scatter of the "
        "runs.",
        f"“{words.capital(_once_in(worst.chance))}” lets every run be a little off, and the "
        "builds' figures as well. One run alone would have to be off by "
        f"{words.seconds(one_run.size, 1)}, {words.number(abs(one_run.times_usual), 1)} times the "
        f"usual {words.seconds(one_run.usual, 1)}, which is rarer still.",
    ]


def _what_now(verdict: Verdict, worst: ClimbGap) -> str:
    """The plain answer behind the figures: believe it or ride again."""
    run = verdict.next_run
    if (
        run is None
        or run.climb != worst.name
        or any(e.belief == "believable" for e in verdict.explanations)
    ):
        return ""
    runs = "one pair of runs" if min(worst.n_first, worst.n_other) == 1 else "these runs"
    more = "one more pair" if run.n_pairs == 1 else f"about {run.n_pairs} more pairs"
    return f": do not build on {runs}, {more} would settle it"


def _once_in(chance: float) -> str:
    if chance <= 0.0 or 1.0 / chance > 9999.5:
        return "less than once in 10,000 tests"
    return f"once in {round(1.0 / chance):,} tests"


def _more(verdict: Verdict, measures: Measures) -> list[str]:
    lines = []
    if verdict.is_expected:
        return [
            "Nothing is left to explain; more runs would narrow it, see `buildgap fieldtest runs`."
        ]
    lines += _chance_lines(verdict)
    believable = [e for e in verdict.explanations if e.belief == "believable"]
    stretch = [e for e in verdict.explanations if e.belief == "a stretch"]
    if believable:
        names = ", ".join(_size_words(e, measures) for e in believable)
        lines.append(f"Believable by its size: {names}.")
    if stretch:
        lines.append("A stretch: " + ", ".join(_size_words(e, measures) for e in stretch) + ".")
    if not believable:
        lines.append("No single error of a usual size explains all of it.")
    for explanation in verdict.explanations:
        if explanation.belief == "the climbs disagree":
            name, unit, decimals, factor = explanation_words(explanation.kind, measures)
            needs = " and ".join(
                (f"{_size(n.value, decimals, factor)} {unit}".rstrip() + f" on {n.climb}")
                if math.isfinite(n.value)
                else f"beyond all bounds on {n.climb}"
                for n in explanation.needs
            )
            lines.append(
                f"{name} would have to be {needs}: one error cannot be both "
                f"(chance {_chance(explanation.agree_chance or 0.0)})."
            )
    if verdict.next_run is not None:
        lines.append(_next_sentence(verdict, measures))
    return lines


def _size_words(explanation: Explanation, measures: Measures) -> str:
    _, unit, decimals, factor = explanation_words(explanation.kind, measures)
    way = _WAYS[explanation.kind][0 if explanation.size > 0.0 else 1]
    size = words.number(abs(explanation.size) * factor, decimals)
    return f"{way} by {size} {unit}".rstrip()


def _next_sentence(verdict: Verdict, measures: Measures) -> str:
    run = verdict.next_run
    if run is None:
        return ""
    expected = dict(run.expected)
    lasting = next(
        e.kind for e in verdict.explanations if e.kind in expected and e.kind != "one run"
    )
    name = explanation_words(lasting, measures)[0]
    name = name if lasting in ("air", "rolling") else name.lower()
    need = (
        "one more pair settles it"
        if run.n_pairs == 1
        else f"about {run.n_pairs} more pairs settle it"
    )
    return (
        f"Ride both once more on {run.climb}: a gap near "
        f"{words.signed_seconds(expected['one run'], 1)} says that one run was odd, near "
        f"{words.signed_seconds(expected[lasting], 1)} that something lasting is wrong ({name}); "
        f"one pair scatters by {words.number(run.sd_s, 1)} s, so {need}."
    )


def _size(value: float, decimals: int, factor: float) -> str:
    return signed_small(value * factor, decimals)


def _need_texts(need: Need, decimals: int, factor: float) -> tuple[str, str]:
    """The size needed, and the interval of it."""
    if math.isinf(need.low) and math.isinf(need.high):
        return _size(need.value, decimals, factor), "none would do"
    low, high = (
        ("no limit" if math.isinf(x) else _size(x, decimals, factor)) for x in (need.low, need.high)
    )
    return _size(need.value, decimals, factor), f"{low} to {high}"


def _named(explanation: Explanation, measures: Measures) -> str:
    name, unit, _, _ = explanation_words(explanation.kind, measures)
    return f"{name}, {unit}" if unit else name


def _needs_rows(explanation: Explanation, measures: Measures) -> list[tuple[str, ...]]:
    _, _, decimals, factor = explanation_words(explanation.kind, measures)
    return [
        (_named(explanation, measures), need.climb, *_need_texts(need, decimals, factor))
        for need in explanation.needs
    ]


def _explanation_row(explanation: Explanation, measures: Measures) -> tuple[str, ...]:
    _, _, decimals, factor = explanation_words(explanation.kind, measures)
    return (
        _named(explanation, measures),
        _size(explanation.size, decimals, factor),
        words.number(explanation.usual * factor, decimals),
        words.number(min(abs(explanation.times_usual), 999.0), 1),
        explanation.belief,
    )


def _next_table(verdict: Verdict, measures: Measures) -> list[Table]:
    run = verdict.next_run
    if run is None:
        return []
    return [
        text_table(
            "next",
            f"What one more pair of runs on {run.climb} would show, s; one pair scatters by "
            f"{words.number(run.sd_s, 1)} s",
            ("If the cause is", "Gap"),
            [
                (explanation_words(kind, measures)[0], words.signed(gap_s))
                for kind, gap_s in run.expected
            ],
        )
    ]


def _charts(verdict: Verdict, measures: Measures) -> tuple[Chart, ...]:
    rows = []
    for climb in verdict.climbs:
        for i, (what, quantity) in enumerate(
            (("predicted", climb.predicted), ("observed", climb.observed))
        ):
            half = NINE_IN_TEN * quantity.sd
            rows.append(
                ChartRow(
                    label=f"{climb.name}, {what}",
                    value=quantity.value,
                    low=quantity.value - half,
                    high=quantity.value + half,
                    colour=i,
                    text=words.signed_seconds(quantity.value, 1),
                )
            )
    charts = [
        Chart(
            title="Observed and predicted gap; bars hold nine in ten",
            x_label=f"Gap of {verdict.other.name}, s (right: loses)",
            rows=tuple(rows),
            lines=((0.0, ""),),
        )
    ]
    needs = []
    for explanation in verdict.explanations:
        name, unit, decimals, factor = explanation_words(explanation.kind, measures)
        for need in explanation.needs:
            if math.isinf(need.value):
                continue
            usual = explanation.usual
            low, high = (
                max(-_MOST_TIMES, min(_MOST_TIMES, x / usual)) for x in (need.low, need.high)
            )
            value = max(-_MOST_TIMES, min(_MOST_TIMES, need.value / usual))
            needs.append(
                ChartRow(
                    label=f"{name}, {need.climb}",
                    value=value,
                    low=low,
                    high=high,
                    text=f"{_size(need.value, decimals, factor)} {unit}".rstrip(),
                )
            )
    charts.append(
        Chart(
            title="How large each error would have to be on each stretch; shaded: believable",
            x_label="Times its usual size",
            rows=tuple(needs),
            band=(-NINE_IN_TEN, NINE_IN_TEN),
            lines=((0.0, ""),),
            most=_MOST_TIMES,
        )
    )
    return tuple(charts)

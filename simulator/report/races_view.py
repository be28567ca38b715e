"""Several races at once: what is shown, as plain frozen records."""

from __future__ import annotations

from dataclasses import dataclass

from simulator.compare import RaceGap, RaceTable
from simulator.measures import METRIC, Measures
from simulator.report import words
from simulator.report.inputs_view import caution_sentence, taken_sentence
from simulator.report.views import NoteView


@dataclass(frozen=True, slots=True, kw_only=True)
class RaceCell:
    """One build in one race, or in all; gaps are to the first build, > 0 means that it loses.

    ``low_s`` to ``high_s`` hold nine in ten draws, ``half_s`` is half of that; None where every
    input is exact.
    """

    time_s: float
    gap_s: float
    low_s: float | None
    high_s: float | None
    half_s: float | None
    interval_error_s: float | None
    chance_first_faster: float | None
    n_stopped: int


@dataclass(frozen=True, slots=True, kw_only=True)
class RaceRow:
    """One race; ``cells`` in the order of the builds after the first."""

    name: str
    course: str
    weather: str
    distance_m: float
    ascent_m: float
    pacing: str
    first_s: float
    cells: tuple[RaceCell, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class RacesView:
    """All that is shown of many races: builds × races, and the sum over all.

    It is worded in ``measures``; ``in_si`` is the same for JSON.
    """

    sentence: str
    more: tuple[str, ...]
    builds: tuple[str, ...]
    races: tuple[RaceRow, ...]
    first_s: float
    totals: tuple[RaceCell, ...]
    n_draws: int
    seed: int
    notes: tuple[NoteView, ...]
    measures: Measures = METRIC
    in_si: RacesView | None = None


def make_races_view(table: RaceTable, measures: Measures = METRIC) -> RacesView:
    """Everything that is shown of many races.

    Parameters
    ----------
    table : RaceTable
        As `simulator.compare.race_table` returns it.
    measures : Measures
        Units to word it in.
    """
    names = tuple(build.name for build in table.builds)
    races = tuple(
        RaceRow(
            name=race.name,
            course=race.course.name,
            weather=race.weather.name,
            distance_m=race.course.distance_m,
            ascent_m=race.course.ascent_m,
            pacing=measures.said(race.demand.text),
            first_s=first_s,
            cells=tuple(_cell(gap) for gap in gaps),
        )
        for race, first_s, gaps in zip(table.races, table.first_times_s, table.gaps, strict=True)
    )
    totals = tuple(_cell(total) for total in table.totals)
    return RacesView(
        sentence=_sentence(names, races, totals),
        more=tuple(_more(names[0], name, races, i) for i, name in enumerate(names[1:]))
        if len(races) > 1
        else (),
        builds=names,
        races=races,
        first_s=sum(table.first_times_s),
        totals=totals,
        n_draws=table.n_draws,
        seed=table.seed,
        notes=_notes(table, races, measures),
        measures=measures,
        in_si=None if measures is METRIC else make_races_view(table),
    )


def _cell(gap: RaceGap) -> RaceCell:
    spread = gap.spread
    return RaceCell(
        time_s=gap.time_s,
        gap_s=gap.gap_s,
        low_s=None if spread is None else spread.low_s,
        high_s=None if spread is None else spread.high_s,
        half_s=None if spread is None else (spread.high_s - spread.low_s) / 2.0,
        interval_error_s=None if spread is None else spread.interval_error_s,
        chance_first_faster=None if spread is None else spread.chance_first_faster,
        n_stopped=0 if spread is None else spread.n_stopped,
    )


def _sentence(
    names: tuple[str, ...], races: tuple[RaceRow, ...], totals: tuple[RaceCell, ...]
) -> str:
    over = f"On {races[0].name}"
    in_all = ""
    if len(races) > 1:
        over, in_all = f"Over {words.count(len(races))} races", " in all"
    if len(totals) == 1:
        total = totals[0]
        size = words.seconds_give_or_take(total.gap_s, total.half_s)
        if abs(total.gap_s) < words.TIE_S:
            return f"{over}, {names[1]} and {names[0]} tie."
        way, to = ("gives away", "to") if total.gap_s > 0.0 else ("gains", "on")
        told = f"{over}, {names[1]} {way} {size} {to} {names[0]}{in_all}."
        return told if _is_sure(total) else words.untold(told)
    gaps_s = [0.0, *(total.gap_s for total in totals)]
    fastest, slowest = (gaps_s.index(f(gaps_s)) for f in (min, max))
    spread_s = gaps_s[slowest] - gaps_s[fastest]
    if spread_s < words.TIE_S:
        return f"{over}, all {words.count(len(names))} builds tie."
    told = (
        f"{over}, {names[fastest]} is the fastest of {words.count(len(names))} builds{in_all}, "
        f"{words.seconds(spread_s)} ahead of {names[slowest]}, the slowest."
    )
    # Only gaps to the first build have an interval.
    pair = {fastest, slowest}
    is_untold = 0 in pair and not _is_sure(totals[max(pair) - 1])
    return words.untold(told) if is_untold else told


def _is_sure(total: RaceCell) -> bool:
    """Whether the interval leaves out zero."""
    return total.low_s is None or total.high_s is None or total.low_s * total.high_s > 0.0


def _more(first: str, name: str, races: tuple[RaceRow, ...], i: int) -> str:
    gaps_s = [race.cells[i].gap_s for race in races]
    if max(map(abs, gaps_s)) < words.TIE_S:
        return f"{name} and {first} tie in every race."
    most, least = (gaps_s.index(f(gaps_s)) for f in (max, min))
    worst, best = (words.signed_seconds(gaps_s[at]) for at in (most, least))
    if worst == best:
        return f"{name} against {first}: {worst} on each of the {words.count(len(races))} races."
    return (
        f"{name} against {first}: at worst {worst} on {races[most].name}, at best {best} on "
        f"{races[least].name}."
    )


def _notes(
    table: RaceTable, races: tuple[RaceRow, ...], measures: Measures
) -> tuple[NoteView, ...]:
    notes = [NoteView(level="caution", text=words.CAUTION)]
    cells = [cell for race in races for cell in race.cells]
    if all(cell.half_s is None for cell in cells):
        text = words.NO_DRAWS_MADE if table.n_draws < 2 else words.NO_DOUBT_STATED
        notes.append(NoteView(level="doubt", text=text))
    n_stopped = sum(cell.n_stopped for cell in cells)
    if n_stopped:
        notes.append(
            NoteView(
                level="doubt",
                text=f"In {n_stopped:,} draws a rider does not reach the finish; they are left out",
            )
        )
    text = (
        "The sum takes rider and builds as the same in all races of a draw, and each weather as "
        "its own"
    )
    notes.append(NoteView(level="note", text=text))
    if taken := taken_sentence(table.rider, table.races[0].weather, measures):
        notes.append(NoteView(level="note", text=taken))
    notes.append(NoteView(level="note", text=caution_sentence(table.rider, table.builds)))
    for race in {id(race.course): race for race in table.races}.values():
        notes += [
            NoteView(
                level=finding.level,
                text=f"{race.course.name}: "
                + words.finding_text(finding.text, finding.distance_m, measures),
            )
            for finding in race.course.findings
            if finding.level == "doubt"
        ]
    return tuple(notes)

"""Many builds against the first one: what is shown, as plain frozen records."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace

from simulator.compare import Comparison
from simulator.measures import METRIC, Measures
from simulator.report import words
from simulator.report.gap_view import make_gap_view
from simulator.report.inputs_view import caution_sentence
from simulator.report.labels import course_facts
from simulator.report.views import GapView, NoteView


@dataclass(frozen=True, slots=True, kw_only=True)
class LineupRow:
    """One build; gaps are against the first one, > 0 means that it loses.

    ``low_s`` to ``high_s`` hold nine in ten draws, ``half_s`` is half of that; None for the first
    build and
    where every input is exact. ``where_s`` holds the gap by kind of stretch, in the order of
    `LineupView.kinds`. ``folder`` is where the pair with the first build is told in full.
    """

    name: str
    time_s: float
    mean_speed_mps: float
    gap_s: float
    half_s: float | None
    low_s: float | None
    high_s: float | None
    is_told_apart: bool
    chance_first_faster: float | None
    where_s: tuple[float, ...]
    main_cause: str
    tie_power_w: float | None
    sentence: str
    folder: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LineupView:
    """All that is shown of many builds; the first row is the build compared with.

    It is worded in ``measures``; ``in_si`` is the same for JSON. Where all inputs are exact there
    are no draws, and no seed.
    """

    sentence: str
    course: str
    facts: str
    kinds: tuple[str, ...]
    rows: tuple[LineupRow, ...]
    notes: tuple[NoteView, ...]
    n_draws: int
    seed: int | None
    measures: Measures = METRIC
    in_si: LineupView | None = None


def make_lineup_view(
    comparisons: Sequence[Comparison], *, folders: Sequence[str], measures: Measures = METRIC
) -> LineupView:
    """Everything that is shown of comparisons that share their first build.

    Parameters
    ----------
    comparisons : sequence of Comparison
        One for each further build, on the same course.
    folders : sequence of str
        Where each comparison's own page lies, relative to the overview.
    measures : Measures
        Units to word it in.

    Returns
    -------
    LineupView
        Builds in the order given, the first one on top.
    """
    views = [make_gap_view(comparison, measures) for comparison in comparisons]
    head = views[0]
    doubts = [view.doubt for view in views if view.doubt is not None]
    kinds = tuple(dict.fromkeys(place.kind for view in views for place in view.places))
    first = LineupRow(
        name=head.first.name,
        time_s=head.first.time_s,
        mean_speed_mps=head.first.mean_speed_mps,
        gap_s=0.0,
        half_s=None,
        low_s=None,
        high_s=None,
        is_told_apart=True,
        chance_first_faster=None,
        where_s=tuple(0.0 for _ in kinds),
        main_cause="",
        tie_power_w=None,
        sentence="",
        folder="",
    )
    rows = [
        _row(view, comparison, folder, kinds)
        for view, comparison, folder in zip(views, comparisons, folders, strict=True)
    ]
    fastest = min([first, *rows], key=lambda row: row.time_s)
    slowest = max([first, *rows], key=lambda row: row.time_s)
    sentence = words.lineup_sentence(
        course=head.course.name,
        n_builds=len(rows) + 1,
        fastest=fastest.name,
        slowest=slowest.name,
        spread_s=slowest.time_s - fastest.time_s,
    )
    # Only gaps to the first build have an interval.
    is_told_apart = fastest.is_told_apart and slowest.is_told_apart
    is_tie = slowest.time_s - fastest.time_s < words.TIE_S
    if first in (fastest, slowest) and not is_told_apart and not is_tie:
        sentence = words.untold(sentence)
    return LineupView(
        sentence=sentence,
        course=head.course.name,
        facts=course_facts(head),
        kinds=kinds,
        rows=(first, *rows),
        notes=_notes(comparisons, views),
        n_draws=max((doubt.n_draws for doubt in doubts), default=0),
        seed=doubts[0].seed if doubts else None,
        measures=measures,
        in_si=None if measures is METRIC else make_lineup_view(comparisons, folders=folders),
    )


def _notes(comparisons: Sequence[Comparison], views: Sequence[GapView]) -> tuple[NoteView, ...]:
    """Notes of all pairs: what holds for all of them once, the rest with the name of its build."""
    first = comparisons[0].gap.first.setup
    others = [comparison.gap.other.setup.build for comparison in comparisons]
    told: dict[NoteView, None] = {}
    for view, other in zip(views, others, strict=True):
        of_pair = caution_sentence(first.rider, (first.build, other))
        for note in view.notes:
            text = note.text
            if text == of_pair:
                # What one build may do is said once, for all builds together.
                text = caution_sentence(first.rider, (first.build, *others))
            elif not all(note in one.notes for one in views):
                text = f"{other.name}: {text}"
            told[replace(note, text=text)] = None
    return tuple(told)


def _row(view: GapView, comparison: Comparison, folder: str, kinds: tuple[str, ...]) -> LineupRow:
    doubt = view.doubt
    causes = sorted(view.causes, key=lambda cause: -abs(cause.gap_s))
    is_shown = bool(causes) and abs(causes[0].gap_s) >= words.TIE_S
    return LineupRow(
        name=view.other.name,
        time_s=view.other.time_s,
        mean_speed_mps=view.other.mean_speed_mps,
        gap_s=view.gap_s,
        half_s=None if doubt is None else doubt.half_s,
        low_s=None if doubt is None else doubt.low_s,
        high_s=None if doubt is None else doubt.high_s,
        is_told_apart=doubt is None or doubt.is_told_apart,
        chance_first_faster=None if doubt is None else doubt.chance_first_faster,
        where_s=tuple(
            sum(place.gap_s for place in view.places if place.kind == kind) for kind in kinds
        ),
        main_cause=f"{causes[0].label} {words.signed(causes[0].gap_s)} s" if is_shown else "",
        tie_power_w=comparison.tie_power_w,
        sentence=view.sentence,
        folder=folder,
    )


def folder_names(names: Sequence[str]) -> list[str]:
    """A plain name for the folder of each build, numbered so that no two are the same."""
    plain = [re.sub(r"[^a-z0-9]+", "-", name.lower()).strip("-")[:40] for name in names]
    return [f"{i + 2}-{name or 'build'}" for i, name in enumerate(plain)]

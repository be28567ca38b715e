"""What is shown of a recorded ride beside the predicted one, as plain frozen records."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from simulator.compare import Comparison, Review
from simulator.measures import METRIC, Measures
from simulator.report import review_words, words
from simulator.report.gap_view import make_gap_view
from simulator.report.inputs_view import setup_rows
from simulator.report.views import BuildView, GapView, NoteView, PlaceRow
from simulator.ride import Ride

_LINES_M = 30.0


@dataclass(frozen=True, slots=True, kw_only=True)
class SuspectRow:
    """One input to doubt; see `compare.Suspect` for the numbers."""

    kind: str
    label: str
    needed_text: str
    doubt_text: str
    nominal: float | None
    needed: float | None
    needed_from_deg: float | None
    doubt: float | None
    is_usual: bool
    doubt_s: float
    times_doubt: float | None
    fit: float
    here_s: float
    n_places: int
    score: float


@dataclass(frozen=True, slots=True, kw_only=True)
class StopRow:
    """One stop on the way."""

    place_m: float
    standing_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ReviewView:
    """All that is shown of a review.

    ``along`` holds everything along the course; its first ride is the predicted one, its other
    the recorded one without stops, both over what the recording covers where it ``is_partial``.
    ``in_si`` is the same in metric words, for JSON.
    """

    sentence: str
    more: tuple[str, ...]
    recording: str
    recorded_w: float
    predicted_w: float
    usual_s: float
    from_m: float
    to_m: float
    is_partial: bool
    standing_s: float
    stops: tuple[StopRow, ...]
    suspects: tuple[SuspectRow, ...]
    along: GapView
    in_si: ReviewView | None = None


def make_review_view(review: Review, measures: Measures = METRIC) -> ReviewView:
    """Everything that is shown of a review, worded in some units.

    Parameters
    ----------
    review : Review
        As `simulator.compare.review` returns it.
    measures : Measures
        Units to word it in.

    Returns
    -------
    ReviewView
        Plain numbers and sentences.
    """
    gap = review.gap
    comparison = Comparison(
        gap=replace(gap, first=_named(gap.first, "Predicted"), other=_named(gap.other, "Recorded")),
        stretches=review.stretches,
        corners=review.corners,
        causes=(),
        matrix_s=np.zeros((len(review.stretches), 0)),
        doubt=None,
        units=(),
        tie_power_w=None,
        power_text=review.demand.text,
    )
    sentence = review_words.headline(review)
    along = make_gap_view(comparison, measures)
    cautions = tuple(note for note in along.notes if note.level == "caution")
    notes = tuple(
        NoteView(level=level, text=text)
        for level, texts in (("doubt", review_words.doubts), ("note", review_words.remarks))
        for text in texts(review, measures)
    )
    along = replace(
        along,
        first=_told(along.first, gap.first, review, review.predicted_w),
        other=_told(along.other, gap.other, review, review.recorded_w),
        gap_s=review.told_gap_s,
        laps=tuple(lap for lap in along.laps if _is_recorded(lap, review)),
        sentence=sentence,
        more=(),
        notes=(*cautions, *notes),
        inputs=setup_rows(gap.first.setup, measures),
    )
    return ReviewView(
        sentence=sentence,
        more=review_words.further(review, measures),
        recording=review.recording.name,
        recorded_w=review.recorded_w,
        predicted_w=review.predicted_w,
        usual_s=review.usual_s,
        from_m=review.from_m,
        to_m=review.to_m,
        is_partial=review.is_partial,
        standing_s=review.standing_s,
        stops=tuple(
            StopRow(place_m=stop.place_m, standing_s=stop.standing_s) for stop in review.stops
        ),
        suspects=tuple(
            SuspectRow(
                kind=suspect.kind,
                label=review_words.LABELS[suspect.kind],
                needed_text=review_words.needed_text(suspect, measures),
                doubt_text=review_words.doubt_text(suspect, measures),
                nominal=suspect.nominal,
                needed=suspect.needed,
                needed_from_deg=suspect.needed_from_deg,
                doubt=suspect.doubt,
                is_usual=suspect.is_usual,
                doubt_s=suspect.doubt_s,
                times_doubt=suspect.times_doubt,
                fit=suspect.fit,
                here_s=suspect.here_s,
                n_places=suspect.n_places,
                score=suspect.score,
            )
            for suspect in review.suspects
        ),
        along=along,
        in_si=None if measures is METRIC else make_review_view(review),
    )


def _told(build: BuildView, ride: Ride, review: Review, mean_power_w: float) -> BuildView:
    """A ride as a whole; of a recording that breaks off or begins late, what it covers."""
    if not review.is_partial:
        return build
    time_s = review.covered_s(ride)
    nodes_m = ride.course.node_distances_m
    is_covered = (nodes_m >= review.from_m) & (nodes_m <= review.to_m)
    return replace(
        build,
        time_s=time_s,
        mean_speed_mps=(review.to_m - review.from_m) / time_s,
        top_speed_mps=float(ride.node_speeds_mps[is_covered].max()),
        mean_power_w=mean_power_w,
        work_j=mean_power_w * time_s,
    )


def _is_recorded(lap: PlaceRow, review: Review) -> bool:
    """Whether the recording covers a lap; metres around the lines may be missing."""
    missed_m = max(review.from_m - lap.start_m, 0.0) + max(lap.end_m - review.to_m, 0.0)
    return missed_m < _LINES_M


def _named(ride: Ride, name: str) -> Ride:
    setup = ride.setup
    return replace(ride, setup=replace(setup, build=replace(setup.build, name=name)))


def fit_text(row: SuspectRow) -> str:
    """How much of where the two rides part one input explains."""
    if row.needed is None and not row.n_places:
        return words.NOTHING
    return "none" if row.fit < 0.005 else words.percent(row.fit)

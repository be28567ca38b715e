"""What is shown of a comparison, as plain frozen records: numbers in SI and finished sentences.

Terminal, page, pictures and JSON all render the same `GapView`. Everything in it is a string,
number, boolean, None or a tuple of these, so that it can be written as JSON as it stands. The
names of the fields end in their units. Gaps are time of the other build minus time of the
first: positive means that the other build loses. Start reading at `GapView`.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, fields
from typing import Any, Protocol

from simulator.measures import METRIC, Measures

CHOICE_OF_UNITS = ("measures", "in_si")
"""Fields of every view that say how it is worded; never in JSON."""


def exported(view: Any, *, without: Collection[str] = ()) -> dict[str, object]:
    """Fields of a view for JSON: of its twin in metric where it is not worded so itself."""
    told = view if view.in_si is None else view.in_si
    return {
        field.name: getattr(told, field.name)
        for field in fields(told)
        if field.name not in (*CHOICE_OF_UNITS, *without)
    }


class Span(Protocol):
    """Anything with a name on a stretch of the distance axis."""

    @property
    def name(self) -> str:
        """As it is shown."""

    @property
    def start_m(self) -> float:
        """Where it starts, m from the start of the ride."""

    @property
    def end_m(self) -> float:
        """Where it ends."""


class Profile(Protocol):
    """Heights along the course."""

    @property
    def distances_m(self) -> tuple[float, ...]:
        """From the start of the ride."""

    @property
    def heights_m(self) -> tuple[float, ...]:
        """At these distances."""


class AlongCourse(Protocol):
    """What every picture over the distance axis shows: of one ride or of two."""

    @property
    def measures(self) -> Measures:
        """The units it is shown in."""

    @property
    def course(self) -> CourseView:
        """The course in one line."""

    @property
    def pacing(self) -> str:
        """The power ridden, in words."""

    @property
    def bands(self) -> tuple[BandView, ...]:
        """Climbs, descents and flats, one for each lap."""

    @property
    def laps(self) -> Sequence[Span]:
        """Lap by lap; empty for a course ridden once."""

    @property
    def lap_starts_m(self) -> tuple[float, ...]:
        """Start of each lap, and the finish."""

    @property
    def series(self) -> Profile:
        """The curves; their heights are meant here."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BuildView:
    """One of the two builds and how its ride went as a whole."""

    name: str
    time_s: float
    mean_speed_mps: float
    top_speed_mps: float
    mean_power_w: float
    work_j: float


@dataclass(frozen=True, slots=True, kw_only=True)
class CourseView:
    """The course in one line."""

    name: str
    distance_m: float
    ascent_m: float
    n_laps: int
    n_corners: int
    start: str
    height_source: str
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PlaceRow:
    """One climb, descent, flat, piece of a flat by the wind, corner or lap.

    It is summed over all laps where `n_laps` says so.

    ``gap_per_km_s`` is the gap for each kilometre of it. ``share`` is of the whole gap and None
    where the whole gap is too small to share out. Start and end are those of the first lap.
    ``parts_s`` is a corner's gap in braking, turning and the surge out of it; None elsewhere.
    """

    kind: str
    name: str
    start_m: float
    end_m: float
    length_m: float
    mean_grade: float | None
    max_grade: float | None
    radius_m: float | None
    n_laps: int
    first_s: float
    other_s: float
    gap_s: float
    gap_per_km_s: float
    share: float | None
    parts_s: tuple[float, float, float] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class CauseRow:
    """What one cause adds to the gap."""

    cause: str
    label: str
    first_text: str
    other_text: str
    gap_s: float
    share: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class MatrixView:
    """Places × causes; ``gaps_s[i][j]`` is what cause j adds on place i. Sums are exact."""

    places: tuple[str, ...]
    kinds: tuple[str, ...]
    spans: tuple[str, ...]
    causes: tuple[str, ...]
    gaps_s: tuple[tuple[float, ...], ...]
    place_totals_s: tuple[float, ...]
    cause_totals_s: tuple[float, ...]
    total_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class DoubtShareRow:
    """How much of the doubt one input brings (share of the gap's variance)."""

    name: str
    share: float


@dataclass(frozen=True, slots=True, kw_only=True)
class DoubtView:
    """How sure the gap is. ``low_s`` to ``high_s`` hold nine in ten draws.

    Draws that tie count in neither chance; those that stop (``n_stopped``) are left out of all.
    """

    n_draws: int
    n_stopped: int
    seed: int
    mean_s: float
    sd_s: float
    low_s: float
    high_s: float
    half_s: float
    interval_error_s: float
    chance_first_faster: float
    chance_other_faster: float
    is_told_apart: bool
    edges_s: tuple[float, ...]
    counts: tuple[int, ...]
    shares: tuple[DoubtShareRow, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class UnitRow:
    """What one step buys the slower build on this course; below zero saves time.

    ``change_s`` is of a full re-ride, ``slope_change_s`` the same by the slope at the start.
    """

    label: str
    step: str
    change_s: float
    slope_change_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class EnergyRow:
    """Where the work went, by cause, for both rides."""

    cause: str
    label: str
    first_j: float
    other_j: float


@dataclass(frozen=True, slots=True, kw_only=True)
class SeriesView:
    """Both rides along the course, thinned for drawing; speed extremes are kept."""

    distances_m: tuple[float, ...]
    heights_m: tuple[float, ...]
    grades: tuple[float, ...]
    first_mps: tuple[float, ...]
    other_mps: tuple[float, ...]
    gaps_s: tuple[float, ...]
    easts_m: tuple[float, ...]
    norths_m: tuple[float, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class WindMark:
    """The wind at one moment of the ride: "start", "half-way" or "finish"."""

    when: str
    wind_mps: float
    wind_from_deg: float


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanView:
    """One lap from above, north up; ``rates_s_per_km`` is the gap a kilometre on each leg.

    ``winds`` holds three moments where the wind turns or grows during the ride, and is empty
    where it stays; ``wind_mps`` and ``wind_from_deg`` are those at the start.
    """

    easts_m: tuple[float, ...]
    norths_m: tuple[float, ...]
    rates_s_per_km: tuple[float, ...]
    scale_s_per_km: float
    wind_mps: float
    wind_from_deg: float
    winds: tuple[WindMark, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class BandView:
    """One stretch as it is shaded behind the curves; one for each lap."""

    kind: str
    name: str
    start_m: float
    end_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class InputRow:
    """One input as it was used; ``other_text`` is None where both rides share it."""

    group: str
    label: str
    first_text: str
    other_text: str | None
    is_different: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class NoteView:
    """Something that the reader should know; ``level`` is "caution", "doubt" or "note"."""

    level: str
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class GapView:
    """All that is shown of one comparison of two builds, worded in ``measures``.

    ``in_si`` is the same in metric units, for JSON; None where this one is. ``places`` cover the
    course, so their gaps add up to ``gap_s``; ``corners`` lie inside them and do not come on top,
    as do ``winds``, the flats cut by the wind. ``metres_at_line`` > 0 means that the other build
    is behind.
    """

    sentence: str
    more: tuple[str, ...]
    pacing: str
    course: CourseView
    first: BuildView
    other: BuildView
    gap_s: float
    share_is_meant: bool
    metres_at_line: float
    places: tuple[PlaceRow, ...]
    corners: tuple[PlaceRow, ...]
    laps: tuple[PlaceRow, ...]
    causes: tuple[CauseRow, ...]
    matrix: MatrixView
    doubt: DoubtView | None
    units: tuple[UnitRow, ...]
    energy: tuple[EnergyRow, ...]
    series: SeriesView
    plan: PlanView
    bands: tuple[BandView, ...]
    corner_marks_m: tuple[float, ...]
    lap_starts_m: tuple[float, ...]
    inputs: tuple[InputRow, ...]
    notes: tuple[NoteView, ...]
    winds: tuple[PlaceRow, ...] = ()
    measures: Measures = METRIC
    in_si: GapView | None = None

    @property
    def slower(self) -> BuildView:
        """The build that loses; the other one on a tie."""
        return self.other if self.gap_s >= 0.0 else self.first

    @property
    def faster(self) -> BuildView:
        """The build that wins; the first one on a tie."""
        return self.first if self.gap_s >= 0.0 else self.other

"""Where the gap arises: by climb, descent, flat and corner."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class StretchGap:
    """One stretch of the course with both times.

    ``kind`` is "climb", "descent", "flat" or "corner". A corner reaches from the start of
    braking to the end of the surge out of it; corners lie inside the other stretches, so the
    gaps of the climbs, descents and flats add up to the total and those of the corners do not
    come on top. ``gap_s`` > 0 means that the other build loses. ``share`` is of the total gap.
    """

    kind: str
    name: str
    start_m: float
    end_m: float
    mean_grade: float
    max_grade: float
    radius_m: float | None
    lap: int
    first_s: float
    other_s: float
    gap_s: float
    share: float

"""Corners as the rider knows them: entries of course.toml laid over the found ones."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from simulator.course.corners import Bend
from simulator.course.course import Finding
from simulator.course.line import Line
from simulator.course.settings import CornerEntry, CourseFile
from simulator.errors import InputError
from simulator.measures import Measures, Phrase, amount

_REACH_M = 30.0
# Length of a corner that is set by hand where none was found.
_MADE_TURN_RAD = np.radians(30.0)


def overridden_bends(
    bends: list[Bend], settings: CourseFile, *, line: Line, lap_m: float, file: str
) -> tuple[list[Bend], list[Finding]]:
    """Apply the ``[[corner]]`` entries of a course file.

    Parameters
    ----------
    bends : list of Bend
        With ridden lines.
    settings : CourseFile
    line : Line
        Tells where a corner that was not found turns to.
    lap_m : float
    file : str
        For messages.

    Returns
    -------
    list of Bend
    list of Finding

    Raises
    ------
    InputError
        If an entry lies outside the lap, says nothing, or asks to ignore a corner that is not
        there.
    """
    bends, findings = list(bends), []
    for number, entry in enumerate(settings.corner, start=1):
        place_m = 1000.0 * (entry.at_km + settings.neutral_km)
        where = f"[[corner]] number {number}"
        if place_m > lap_m:
            raise InputError(
                file=file,
                place=where,
                found=f"at_km = {entry.at_km:g}",
                expected=f"a place within the lap of {lap_m / 1000:.3f} km",
            )
        i_bend = _nearest(bends, place_m)
        if i_bend is None:
            bends.append(_made(entry, place_m, line, file, where))
            text = Phrase(
                "a corner of {radius} radius is set by hand where none was found",
                radius=amount(Measures.height_as_written, entry.radius_m or 0.0),
            )
            findings.append(Finding(level="note", text=text, distance_m=1000.0 * entry.at_km))
        elif entry.ignore:
            del bends[i_bend]
        else:
            changes: dict[str, object] = {"name": entry.name} if entry.name else {}
            if entry.radius_m is not None:
                changes["line_radius_m"] = entry.radius_m
            bends[i_bend] = replace(bends[i_bend], **changes)  # type: ignore[arg-type]
    return sorted(bends, key=lambda bend: bend.apex_m), findings


def _nearest(bends: list[Bend], place_m: float) -> int | None:
    best, found = _REACH_M, None
    for i_bend, bend in enumerate(bends):
        off = min(
            abs(bend.apex_m - place_m),
            0.0 if bend.start_m <= place_m <= bend.end_m else np.inf,
        )
        if off <= best:
            best, found = off, i_bend
    return found


def _made(entry: CornerEntry, place_m: float, line: Line, file: str, where: str) -> Bend:
    if entry.radius_m is None or entry.ignore:
        raise InputError(
            file=file,
            place=where,
            found=f"no corner was found within {_REACH_M:.0f} m of {entry.at_km:g} km",
            expected="a radius_m for a corner set by hand",
            mend="see the corners with `buildgap course check`",
        )
    ends = np.interp([place_m - _REACH_M, place_m + _REACH_M], line.places_m, line.headings_rad)
    turn = float(ends[1] - ends[0])
    if abs(turn) < _MADE_TURN_RAD:
        turn = float(np.copysign(_MADE_TURN_RAD, turn))
    half = 0.5 * abs(turn) * entry.radius_m
    return Bend(
        start_m=place_m - half,
        apex_m=place_m,
        end_m=place_m + half,
        radius_m=entry.radius_m,
        turn_rad=turn,
        line_radius_m=entry.radius_m,
        line_start_m=place_m - half,
        line_end_m=place_m + half,
        name=entry.name,
    )

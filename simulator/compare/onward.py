"""What a recording does behind the finish: rides home, or more laps of the same course."""

from __future__ import annotations

import numpy as np

from simulator.compare.laying import LINE_M
from simulator.course import Course
from simulator.pacing import LaidRecording
from simulator.recordings import Recording, plane_m

AT_LINE_M = 50.0
"""Who passes the finish this near, a lap after the last time, has ridden that lap."""

LAP_AGREES = 0.1
"""Share of a lap's length by which a wheel or places may measure it otherwise."""


def ridden_on(laid: LaidRecording, recording: Recording, course: Course) -> tuple[float, int]:
    """How far a recording goes on behind the finish, and how many more laps it rides there.

    Parameters
    ----------
    laid : LaidRecording
        The recording on the course, cut at the finish.
    recording : Recording
        All of it.
    course : Course
        Whose laps, if it has some, are all ridden before.

    Returns
    -------
    float, int
        m behind the finish, and laps; 0 where the recording does not reach the finish or has no
        distances. A lap that ends elsewhere is none.
    """
    if laid.places_m[-1] < course.distance_m - LINE_M:
        return 0.0, 0
    later = np.isfinite(recording.distances_m) & (recording.times_s >= laid.times_s[-1])
    ridden_m = recording.distances_m[later]
    if len(ridden_m) < 2:
        return 0.0, 0
    ridden_m = ridden_m - ridden_m[0]
    line = float(course.node_lats_deg[-1]), float(course.node_lons_deg[-1])
    lap_m = course.distance_m / course.n_laps
    east_m, north_m = plane_m(
        recording.lats_deg[later], recording.lons_deg[later], lat0_deg=line[0], lon0_deg=line[1]
    )
    with np.errstate(invalid="ignore"):
        at_line = ridden_m[np.hypot(east_m, north_m) <= AT_LINE_M]
    n_laps, since_m = 0, 0.0
    while True:
        off = np.abs(at_line - since_m - lap_m)
        if not len(off) or off.min() > LAP_AGREES * lap_m:
            return float(ridden_m[-1]), n_laps
        n_laps, since_m = n_laps + 1, float(at_line[np.argmin(off)])

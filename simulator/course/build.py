"""From files to a `Course`: the order of the steps, and the reading; each step is elsewhere.

1. read the track and mend it (``track``, ``repair``)
2. choose heights (``heights``, ``tiles``)
3. close the loop, move start and finish (``laps``)
4. smooth the plan: heading, curvature, true length (``line``)
5. find corners and the lines through them (``corners``)
6. smooth the heights, put straight grades where asked (``profile``)
7. cut the lap into segments, with exposure (``segments``, ``zones``)
8. unroll laps, name climbs and corners (``unroll``, ``features``)
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np

from simulator.course.corners import find_bends, ridden_lines
from simulator.course.course import Course, Finding
from simulator.course.heights import CHOICES, choose_heights
from simulator.course.laps import closed_heights, distances_m, padded, shape_of
from simulator.course.line import smooth_line
from simulator.course.overrides import overridden_bends
from simulator.course.profile import smooth_profile
from simulator.course.repair import repair_track, reversed_track
from simulator.course.segments import cut_lap
from simulator.course.settings import CourseFile, settings_of_gpx
from simulator.course.track import Track, read_track
from simulator.course.unroll import unrolled
from simulator.course.zones import Zone, read_zones
from simulator.errors import InputError
from simulator.files import path_inside, read_toml, refuse_links_out

COURSE_FILE = "course.toml"
# What lies across the line of a loop is needed to smooth up to it.
_PAD_M = 400.0
# Nothing to ride: shorter than one would call a course.
_LEAST_COURSE_M = 20.0
_LONGEST_COURSE_M = 1_000_000.0
# Longer legs than this between points are strays, and too few data to smooth a line through.
_LONGEST_LEG_M = 50_000.0
_KERB_MARGIN_M = 0.5


def build_course(
    path: Path,
    *,
    n_laps: int | None = None,
    reverse: bool = False,
    heights: str = "auto",
    tiles_folder: Path | None = None,
    allow_download: bool = False,
) -> Course:
    """Make a course from a GPX file, a course folder or its course.toml.

    Parameters
    ----------
    path : Path
        The file or folder.
    n_laps : int, optional
        Laps; overrides the file's.
    reverse : bool
        Ride the other way than the file says.
    heights : str
        ``"track"``, ``"tiles"`` or ``"auto"`` (which leaves it to the file, then to the data).
    tiles_folder : Path, optional
        Folder with elevation tiles; overrides the file's.
    allow_download : bool
        Fetch missing tiles from the network.

    Returns
    -------
    Course

    Raises
    ------
    InputError
        If anything in the files is missing or wrong.
    """
    if heights not in CHOICES:
        msg = f"heights must be one of {CHOICES}, not {heights!r}"
        raise ValueError(msg)
    settings, folder, source = _settings(Path(path))
    if n_laps is not None:
        if n_laps < 1:
            raise InputError(file=source, found=f"{n_laps} laps", expected="one lap or more")
        settings = settings.model_copy(update={"laps": n_laps})
    if reverse:
        other = "as recorded" if settings.direction == "reversed" else "reversed"
        settings = settings.model_copy(update={"direction": other})
    if heights != "auto":
        settings = settings.model_copy(update={"heights": heights})
    track_path, zones_path, own_tiles = _named_paths(settings, folder, source)
    if tiles_folder is None and own_tiles is not None:
        refuse_links_out(own_tiles, "*.hgt*")
        tiles_folder = own_tiles
    zones = read_zones(zones_path) if zones_path is not None else ()
    return course_of_track(
        read_track(track_path),
        settings,
        source=source,
        zones=zones,
        tiles_folder=tiles_folder,
        allow_download=allow_download,
    )


def course_of_track(
    track: Track,
    settings: CourseFile,
    *,
    source: str,
    zones: tuple[Zone, ...] = (),
    tiles_folder: Path | None = None,
    allow_download: bool = False,
) -> Course:
    """Make a course from points and settings; reads nothing but elevation tiles.

    Parameters
    ----------
    track : Track
        As read.
    settings : CourseFile
    source : str
        The file the user named, for messages.
    zones : tuple of Zone
    tiles_folder : Path, optional
    allow_download : bool

    Returns
    -------
    Course
    """
    track = repair_track(track)
    _refuse_odd_lengths(track, source)
    if settings.direction == "reversed":
        track = reversed_track(track)
    raw = choose_heights(
        file=source,
        places_m=distances_m(track),
        lats_deg=track.lats_deg,
        lons_deg=track.lons_deg,
        track_heights_m=track.heights_m,
        choice=settings.heights,
        tiles_folder=tiles_folder,
        allow_download=allow_download,
    )
    shape = shape_of(
        replace(track, heights_m=raw.heights_m),
        file=source,
        n_laps=settings.laps,
        start_m=1000.0 * settings.start_km,
        finish_m=None if settings.finish_km is None else 1000.0 * settings.finish_km,
    )
    findings: list[Finding] = [*track.findings, *raw.findings, *shape.findings]
    ridden, is_repeated = shape.track, shape.is_repeated
    lap_raw_m = float(distances_m(ridden)[-1])
    before_m = 0.0
    if is_repeated:
        flat, told = closed_heights(ridden.heights_m, distances_m(ridden))
        findings += told
        ridden, before_m = padded(replace(ridden, heights_m=flat), _PAD_M)

    line = smooth_line(ridden.lats_deg, ridden.lons_deg)
    ends = line.place_of_raw_m(np.array([before_m, before_m + lap_raw_m]))
    line = replace(line, places_m=line.places_m - ends[0])
    lap_m = float(ends[1] - ends[0])
    finish_m = float(line.place_of_raw_m(np.array([before_m + shape.finish_m]))[0])

    middle_side_m = max(0.0, 0.5 * settings.road_width_m - _KERB_MARGIN_M)
    bends = [bend for bend in find_bends(line) if 0.0 <= bend.apex_m < lap_m]
    bends = ridden_lines(bends, side_m=middle_side_m, lap_m=lap_m, is_closed=is_repeated)
    bends, more = overridden_bends(bends, settings, line=line, lap_m=lap_m, file=source)
    findings += more

    raw_places = distances_m(ridden)
    profile, more = smooth_profile(
        places_m=line.place_of_raw_m(raw_places),
        heights_m=ridden.heights_m,
        noise=raw.noise,
        fixes=settings.fix,
        offset_m=1000.0 * settings.neutral_km,
        lap_m=lap_m,
        is_closed=is_repeated,
        is_from_tiles="tiles" in raw.source,
        file=source,
    )
    findings += more
    lap = cut_lap(
        line=line,
        raw_points_m=raw_places,
        lats_deg=ridden.lats_deg,
        lons_deg=ridden.lons_deg,
        profile=profile,
        bends=bends,
        zones=zones,
        exposure=settings.exposure,
        lap_m=lap_m,
        finish_m=finish_m,
        neutral_m=1000.0 * settings.neutral_km,
        is_closed=is_repeated,
    )
    return unrolled(
        lap,
        bends,
        settings,
        line=line,
        finish_m=finish_m,
        is_closed=shape.is_closed,
        findings=findings,
        file=source,
        height_source=raw.source,
        noise=profile.noise,
        source=source,
    )


def _refuse_odd_lengths(track: Track, source: str) -> None:
    """Complain about what is no course: a standstill, a continent, a leg that no road has."""
    places_m = distances_m(track)
    if track.n_points < 2 or places_m[-1] < _LEAST_COURSE_M:
        raise InputError(
            file=source,
            found=f"a track of {places_m[-1]:.0f} m"
            if track.n_points > 1
            else "a track that stays in one place",
            expected=f"{_LEAST_COURSE_M:.0f} m or more",
        )
    legs_m = np.diff(places_m)
    i_leg = int(np.argmax(legs_m))
    if legs_m[i_leg] > _LONGEST_LEG_M:
        raise InputError(
            file=source,
            place=f"{places_m[i_leg] / 1000.0:.1f} km from the start",
            found=f"the next point is {legs_m[i_leg] / 1000.0:.0f} km away",
            expected=f"at most {_LONGEST_LEG_M / 1000.0:.0f} km from point to point",
            mend="delete the stray point, or draw the road between",
        )
    if places_m[-1] > _LONGEST_COURSE_M:
        raise InputError(
            file=source,
            found=f"a track of {places_m[-1] / 1000.0:.0f} km",
            expected=f"at most {_LONGEST_COURSE_M / 1000.0:.0f} km",
            mend="cut it into stages",
        )


def _settings(path: Path) -> tuple[CourseFile, Path, str]:
    """Settings, the folder that file names are relative to, and what the user named."""
    if path.is_dir():
        if not (path / COURSE_FILE).exists():
            raise InputError(
                file=str(path),
                found=f"a folder without {COURSE_FILE}",
                expected="a GPX file or a course folder",
                mend=_meant_in(path),
            )
        path = path / COURSE_FILE
    if path.suffix.lower() == ".toml":
        return read_toml(path, CourseFile), path.parent, str(path)
    return settings_of_gpx(path), path.parent, str(path)


def _meant_in(folder: Path) -> str:
    """What in a folder may have been meant: the course in it, or its only track."""
    if (folder / "course" / COURSE_FILE).is_file():
        return f"did you mean `{folder / 'course'}`?"
    tracks = sorted(folder.glob("*.gpx"))[:2]
    return f"did you mean `{tracks[0]}`?" if len(tracks) == 1 else ""


def _named_paths(
    settings: CourseFile, folder: Path, source: str
) -> tuple[Path, Path | None, Path | None]:
    """Track, zones and folder of tiles; a course reads nothing outside its folder but tiles."""
    if not source.lower().endswith(".toml"):
        return folder / settings.track, None, None  # a track that the user named themselves

    def at(name: str, key: str) -> Path:
        return path_inside(folder, name, file=source, key=key, or_beside=key == "tiles")

    return (
        at(settings.track, "track"),
        at(settings.zones, "zones") if settings.zones is not None else None,
        at(settings.tiles, "tiles") if settings.tiles is not None else None,
    )

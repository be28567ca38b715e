"""Real recordings shipped in registry packages; sources and licences in data/README.md.

Lengths are compared with geodesics by geographiclib, ascents with plain sums of the file's heights.
"""

from pathlib import Path

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic

from simulator.course import CourseFile, build_course, quality_of
from simulator.course.build import course_of_track
from simulator.course.laps import distances_m
from simulator.course.track import Track, read_track
from simulator.errors import InputError

DATA = Path(__file__).parent / "data"
TRACKS = sorted(path.name for path in DATA.glob("*.gpx"))


def geodesic_length_m(lats, lons):
    return sum(
        Geodesic.WGS84.Inverse(*leg)["s12"]
        for leg in zip(lats[:-1], lons[:-1], lats[1:], lons[1:], strict=True)
    )


def texts(course):
    return " | ".join(finding.text for finding in course.findings)


def test_the_files_are_there():
    assert len(TRACKS) == 9


@pytest.mark.parametrize("name", TRACKS)
def test_raw_length_is_the_geodesic_one(name):
    track = read_track(DATA / name)
    expected = geodesic_length_m(track.lats_deg, track.lons_deg)
    assert distances_m(track)[-1] == pytest.approx(expected, rel=1e-8)


@pytest.mark.parametrize(
    ("name", "shorter_by"),
    [
        # Hikers with an old receiver, 2 m of jitter on a zigzag path: an eighth of the way.
        ("Mojstrovka.gpx", 0.14),
        ("korita-zbevnica.gpx", 0.03),
        ("cerknicko-jezero.gpx", 0.05),
        ("cerknicko-without-times.gpx", 0.05),
        # A car on roads.
        ("around-visnjan-with-car.gpx", 0.02),
    ],
)
def test_smoothing_takes_jitter_and_little_else(name, shorter_by):
    track = read_track(DATA / name)
    course = build_course(DATA / name)
    raw_m = float(distances_m(track)[-1])
    flat_m = float((course.lengths_m / np.sqrt(1.0 + course.grades**2)).sum())
    assert (1.0 - shorter_by) * raw_m < flat_m < 1.005 * raw_m


def test_the_gap_is_told():
    assert "a gap of 254 m" in texts(build_course(DATA / "Mojstrovka.gpx"))


def test_a_mountain_path_is_no_road_and_that_is_said():
    course = build_course(DATA / "Mojstrovka.gpx")
    assert "true, or bad heights?" in texts(course)
    assert quality_of(course).max_grade_50m > 0.3


def test_pauses_are_told():
    assert "2 pauses" in texts(build_course(DATA / "around-visnjan-with-car.gpx"))


def test_many_tracks_in_one_file():
    assert "7 tracks that do not join" in texts(build_course(DATA / "cerknicko-jezero.gpx"))


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("cerknicko-jezero-without-elevations.gpx", "height missing on 1"),
        ("cerknicko-jezero-with-elevations-zero.gpx", "all heights are 0"),
        ("route.gpx", "height missing on 55 of 55 points"),
    ],
)
def test_without_heights_the_tile_is_named(name, words):
    with pytest.raises(InputError, match=words) as caught:
        build_course(DATA / name)
    assert "--tiles" in str(caught.value)
    assert ("N45E013.hgt" if name == "route.gpx" else "N45E014.hgt") in str(caught.value)


def race_lap():
    lons, lats, heights = np.loadtxt(DATA / "obiszow_mtb_xcm.csv", delimiter=",", skiprows=1).T
    is_break = np.zeros(len(lats), dtype=bool)
    is_break[0] = True
    return Track(
        name="race lap",
        kind="track",
        lats_deg=lats,
        lons_deg=lons,
        heights_m=heights,
        times_s=np.full(len(lats), np.nan),
        is_break=is_break,
    )


def test_race_lap():
    """32 km in the woods, a point every 33 m, heights in whole metres."""
    track = race_lap()
    course = course_of_track(track, CourseFile(name="race lap"), source="race lap")
    quality = quality_of(course)
    raw_m = geodesic_length_m(track.lats_deg, track.lons_deg)
    assert raw_m == pytest.approx(32_363.0, abs=1.0)
    assert course.is_closed
    # Sparse points on a winding trail: the line through them, not a straightened one.
    assert course.distance_m == pytest.approx(raw_m, rel=0.005)
    raw_ascent_m = float(np.maximum(np.diff(track.heights_m), 0.0).sum())
    assert raw_ascent_m == pytest.approx(636.0)
    assert quality.large_rises_m == pytest.approx(raw_ascent_m, rel=0.05)
    repeated = course_of_track(track, CourseFile(name="race lap", laps=3), source="race lap")
    assert repeated.n_laps == 3
    assert repeated.distance_m == pytest.approx(3 * course.distance_m, rel=0.002)


@pytest.mark.parametrize("name", ["korita-zbevnica.gpx", "cerknicko-jezero.gpx"])
def test_reversed_real_tracks_are_as_long(name):
    there, back = build_course(DATA / name), build_course(DATA / name, reverse=True)
    assert back.distance_m == pytest.approx(there.distance_m, rel=0.004)
    assert quality_of(back).large_falls_m == pytest.approx(
        quality_of(there).large_rises_m, abs=15.0
    )

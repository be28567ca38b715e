"""From files to a course: shipped courses, invariants, export and re-import, made courses."""

import csv
import io
from pathlib import Path

import numpy as np
import pytest

from simulator.course import (
    build_course,
    course_csv,
    course_from_arrays,
    course_gpx,
    quality_of,
)
from simulator.course.settings import CourseFile
from simulator.errors import InputError
from simulator.files import read_toml

COURSES = Path(__file__).parents[2] / "courses"
NAMES = ("steady-climb", "three-hills", "town-criterium", "windy-out-and-back")


@pytest.fixture(scope="module")
def shipped():
    return {name: build_course(COURSES / name) for name in NAMES}


def test_every_shipped_course_is_there(shipped):
    assert {path.parent.name for path in COURSES.glob("*/course.toml")} == set(NAMES)


@pytest.mark.parametrize("name", NAMES)
def test_arrays_of_a_course_agree_with_each_other(shipped, name):
    course = shipped[name]
    assert (course.lengths_m > 0.0).all()
    np.testing.assert_allclose(np.diff(course.node_distances_m), course.lengths_m, atol=1e-7)
    runs = course.lengths_m / np.sqrt(1.0 + course.grades**2)
    np.testing.assert_allclose(np.diff(course.node_heights_m), runs * course.grades, atol=1e-9)
    # Headings and lengths lead where the positions are, to a metre in twenty.
    east, north = np.diff(course.node_easts_m), np.diff(course.node_norths_m)
    ahead = np.hypot(east, north)
    assert np.hypot(east, north).sum() == pytest.approx(runs.sum(), rel=2e-3)
    long = ahead > 2.0
    # Five degrees: chords over segments that bend, and knots some metres apart.
    turn = np.arctan2(east, north)[long] - course.headings_rad[long]
    assert np.abs((turn + np.pi) % (2 * np.pi) - np.pi).max() < 0.08
    assert course.lap_starts_m[0] == 0.0
    assert course.lap_starts_m[-1] == pytest.approx(course.distance_m)
    for corner in course.corners:
        assert corner.start_m <= corner.apex_m <= corner.end_m
        inside = (course.node_distances_m[:-1] >= corner.start_m - 1e-6) & (
            course.node_distances_m[1:] <= corner.end_m + 1e-6
        )
        assert inside.sum() >= 5
        assert course.lengths_m[inside].max() <= 1.05
        assert course.radii_m[inside].max() <= corner.radius_m + 1e-9
    assert course.features[0].start_m == 0.0
    assert course.features[-1].end_m == pytest.approx(course.distance_m)


def test_town_criterium(shipped):
    course = shipped["town-criterium"]
    assert course.n_laps == 10
    assert sum(corner.lap == 1 for corner in course.corners) == 6
    assert 1200.0 < course.lap_starts_m[1] < 1600.0
    assert course.start == "standing"
    assert set(np.unique(course.shelters)) == {0.5, 1.0}


def test_three_hills(shipped):
    course = shipped["three-hills"]
    assert course.height_source == "tiles"
    assert course.distance_m > 40_000.0
    climbs = [feature for feature in course.features if feature.kind == "climb"]
    assert [climb.name for climb in climbs] == ["Harrow Hill", "The Mizzen", "Cold Beacon"]
    assert all(0.05 < climb.mean_grade < 0.08 for climb in climbs)
    assert np.abs(course.grades).max() < 0.12
    assert sum("hairpin" in corner.name for corner in course.corners) >= 6
    assert 0.4 in course.shelters


def test_steady_climb(shipped):
    (climb,) = shipped["steady-climb"].features
    assert climb.kind == "climb"
    assert 0.06 < climb.mean_grade < 0.07
    assert [gate.name for gate in shipped["steady-climb"].gates] == ["lower gate", "upper gate"]


def test_windy_out_and_back(shipped):
    course = shipped["windy-out-and-back"]
    assert course.distance_m == pytest.approx(20_130.0, abs=60.0)
    assert np.abs(course.grades).max() < 0.02
    assert len(course.corners) == 1
    half = course.headings_rad[course.n_segments // 4]
    other = course.headings_rad[3 * course.n_segments // 4]
    assert np.cos(half - other) < -0.9


def test_the_same_files_give_the_same_course(shipped):
    again = build_course(COURSES / "town-criterium")
    np.testing.assert_array_equal(again.grades, shipped["town-criterium"].grades)
    np.testing.assert_array_equal(again.radii_m, shipped["town-criterium"].radii_m)


def test_folder_file_and_track_are_all_accepted():
    folder = build_course(COURSES / "steady-climb")
    file = build_course(COURSES / "steady-climb" / "course.toml")
    bare = build_course(COURSES / "steady-climb" / "track.gpx")
    assert folder.distance_m == file.distance_m == pytest.approx(bare.distance_m, abs=0.05)
    assert bare.name == "track"


def test_every_key_of_a_course_file_is_explained_somewhere():
    text = "".join(path.read_text() for path in COURSES.glob("*/course.toml"))
    missing = [key for key in CourseFile.model_fields if key not in text]
    # Told in the starter files and in `buildgap new`.
    assert set(missing) <= {"finish_km", "start_km", "neutral_km", "fix", "corner", "restart"}


@pytest.mark.parametrize("name", NAMES)
def test_course_files_are_read_strictly(name):
    assert read_toml(COURSES / name / "course.toml", CourseFile).name


def test_export_and_import_give_the_same_course(shipped, tmp_path):
    course = shipped["steady-climb"]
    (tmp_path / "again.gpx").write_text(course_gpx(course))
    again = build_course(tmp_path / "again.gpx")
    assert again.distance_m == pytest.approx(course.distance_m, rel=1e-3)
    at = np.linspace(100.0, 3200.0, 300)
    ours = np.interp(at, course.node_distances_m, course.node_heights_m)
    theirs = np.interp(at, again.node_distances_m, again.node_heights_m)
    np.testing.assert_allclose(theirs, ours, atol=0.3)
    assert len(again.corners) == len(course.corners)
    for one, other in zip(again.corners, course.corners, strict=True):
        assert one.apex_m == pytest.approx(other.apex_m, abs=3.0)


def test_exported_text_is_safe(tmp_path):
    course = course_from_arrays(
        lengths_m=np.full(20, 5.0),
        grades=0.0,
        name='<a> & "b"\x1b[31m',
        headings_rad=1.0,
        start_height_m=7.0,
    )
    path = tmp_path / "x.gpx"
    path.write_text(course_gpx(course))
    assert build_course(path).distance_m == pytest.approx(100.0, rel=0.01)


def test_csv_of_segments(shipped):
    course = shipped["town-criterium"]
    rows = list(csv.DictReader(io.StringIO(course_csv(course))))
    assert len(rows) == course.n_segments
    assert sum(float(row["length_m"]) for row in rows) == pytest.approx(course.distance_m, abs=0.5)
    assert {row["lap"] for row in rows} == {str(k) for k in range(1, 11)}
    straight = [row for row in rows if row["radius_m"] == ""]
    assert 0 < len(straight) < len(rows)


def test_quality_of_a_made_course():
    course = course_from_arrays(
        lengths_m=np.full(400, 5.0), grades=np.r_[np.full(200, 0.05), np.full(200, -0.05)]
    )
    quality = quality_of(course)
    rise = 1000.0 * np.sin(np.arctan(0.05))
    assert quality.large_rises_m == pytest.approx(rise)
    assert quality.large_falls_m == pytest.approx(rise)
    assert quality.max_grade_50m == pytest.approx(0.05)
    assert quality.min_grade_200m == pytest.approx(-0.05)
    assert quality.n_corners == 0


def test_small_rises_are_climbing_but_no_large_ones():
    """The two sums differ, so that they bear different names."""
    course = course_from_arrays(lengths_m=np.full(400, 5.0), grades=np.tile([0.02, -0.02], 200))
    quality = quality_of(course)
    assert course.ascent_m == pytest.approx(200 * 0.1, rel=1e-3)
    assert quality.large_rises_m < quality.threshold_m
    assert not hasattr(quality, "ascent_m")


def test_made_courses_add_up():
    course = course_from_arrays(
        lengths_m=[10.0, 20.0], grades=[0.1, -0.1], headings_rad=[0.0, np.pi / 2.0]
    )
    cos = 1.0 / np.sqrt(1.01)
    np.testing.assert_allclose(course.node_norths_m, [0.0, 10.0 * cos, 10.0 * cos], atol=1e-12)
    np.testing.assert_allclose(course.node_easts_m, [0.0, 0.0, 20.0 * cos], atol=1e-12)
    np.testing.assert_allclose(course.node_heights_m, [0.0, cos, -cos], atol=1e-12)
    with pytest.raises(ValueError, match="read-only"):
        course.grades[0] = 1.0


def test_laps_below_one_are_refused():
    with pytest.raises(InputError, match="one lap or more"):
        build_course(COURSES / "town-criterium", n_laps=0)


def test_more_points_change_little(made_road, place, write_gpx):
    """The course is the road's, not the recorder's: 2 m and 6 m spacing give the same."""
    road = made_road(
        [(300.0, np.inf), (40.0, 25.0), (300.0, np.inf), (50.0, -30.0), (300.0, np.inf)]
    )
    courses = []
    for step in (2.0, 6.0):
        at = np.arange(0.0, road.along_m[-1], step)
        lats, lons = place(
            np.interp(at, road.along_m, road.east_m), np.interp(at, road.along_m, road.north_m)
        )
        heights = [f"{10.0 + 8.0 * np.sin(x / 150.0):.2f}" for x in at]
        courses.append(build_course(write_gpx(lats, lons, heights, name=f"{step:.0f}.gpx")))
    one, other = courses
    assert other.distance_m == pytest.approx(one.distance_m, abs=6.0)
    assert len(one.corners) == len(other.corners) == 2
    for left, right in zip(one.corners, other.corners, strict=True):
        assert right.radius_m == pytest.approx(left.radius_m, rel=0.06)
    at = np.linspace(30.0, 950.0, 200)
    np.testing.assert_allclose(
        np.interp(at, other.node_distances_m[1:], other.grades),
        np.interp(at, one.node_distances_m[1:], one.grades),
        atol=0.004,
    )

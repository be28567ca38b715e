"""Loops, laps, starts and finishes anywhere, other directions, odd shapes."""

import numpy as np
import pytest

from simulator.course import build_course
from simulator.errors import InputError

QUARTER = np.pi / 2.0
RADIUS_M = 20.0
# A rounded rectangle, 4 corners to the right, of 2·(300 + 160) + 2π·20 = 1045.66 m.
LOOP = [
    (150.0, np.inf),
    (QUARTER * RADIUS_M, RADIUS_M),
    (160.0, np.inf),
    (QUARTER * RADIUS_M, RADIUS_M),
    (300.0, np.inf),
    (QUARTER * RADIUS_M, RADIUS_M),
    (160.0, np.inf),
    (QUARTER * RADIUS_M, RADIUS_M),
    (150.0, np.inf),
]
LOOP_M = 2 * (300 + 160) + 2 * np.pi * RADIUS_M


def heights_on(road, at_m):
    """A hill on the loop, the same in every lap."""
    return 50.0 + 4.0 * (1.0 - np.cos(2.0 * np.pi * at_m / LOOP_M))


@pytest.fixture
def loop_file(made_road, place, write_gpx):
    """``loop_file(n_laps=1, beyond_m=0, missing_m=0, off=(0, 0))`` -> path of a track."""

    def make(n_laps=1, *, beyond_m=0.0, missing_m=0.0, off=(0.0, 0.0), name="track.gpx"):
        pieces = LOOP * n_laps + LOOP[:1]
        road = made_road(pieces)
        total = n_laps * LOOP_M + beyond_m - missing_m
        at = np.linspace(0.0, total, round(total / 5.0))
        share = at / total
        east = np.interp(at, road.along_m, road.east_m) + off[0] * share
        north = np.interp(at, road.along_m, road.north_m) + off[1] * share
        heights = [f"{h:.3f}" for h in heights_on(road, at)]
        return write_gpx(*place(east, north), heights, name=name)

    return make


def settings(path, text):
    file = path.parent / "course.toml"
    file.write_text(f'name = "made"\ntrack = "{path.name}"\n{text}\n')
    return file


def texts(course):
    return " | ".join(finding.text for finding in course.findings)


def test_a_loop_is_seen_and_ridden_once(loop_file):
    course = build_course(loop_file())
    assert course.is_closed
    assert course.n_laps == 1
    assert course.distance_m == pytest.approx(LOOP_M, rel=2e-3)
    assert len(course.corners) == 4


def test_laps_repeat_each_other(loop_file):
    course = build_course(loop_file(), n_laps=5)
    lap_m = course.lap_starts_m[1]
    assert course.n_laps == 5
    assert lap_m == pytest.approx(build_course(loop_file()).distance_m, abs=1.0)
    np.testing.assert_allclose(np.diff(course.lap_starts_m), lap_m, rtol=1e-12)
    for name in ("lengths_m", "grades", "headings_rad", "radii_m", "shelters"):
        laps = getattr(course, name).reshape(5, -1)
        np.testing.assert_array_equal(laps, np.tile(laps[0], (5, 1)))
    assert [corner.number for corner in course.corners] == [1, 2, 3, 4] * 5
    assert [corner.lap for corner in course.corners] == [k for k in range(1, 6) for _ in range(4)]
    assert course.features[0].start_m == 0.0
    assert course.features[-1].end_m == pytest.approx(course.distance_m)


def test_closing_error_is_spread(loop_file):
    true = build_course(loop_file(name="a.gpx"))
    course = build_course(loop_file(off=(6.0, -4.0), name="b.gpx"))
    assert course.is_closed
    assert "the loop closed with an error of 7." in texts(course)
    assert course.node_easts_m[-1] == pytest.approx(course.node_easts_m[0], abs=0.01)
    assert course.node_norths_m[-1] == pytest.approx(course.node_norths_m[0], abs=0.01)
    assert course.distance_m == pytest.approx(true.distance_m, abs=1.5)


def test_overshoot_is_cut_and_a_gap_is_bridged(loop_file):
    true = build_course(loop_file(name="a.gpx"), n_laps=2)
    over = build_course(loop_file(beyond_m=60.0, name="b.gpx"), n_laps=2)
    assert over.is_closed
    assert "60 m past its start" in texts(over)
    assert over.distance_m == pytest.approx(true.distance_m, abs=1.0)
    short = build_course(loop_file(missing_m=30.0, name="c.gpx"), n_laps=2)
    assert short.is_closed
    assert "closed by a straight line" in texts(short)
    assert short.distance_m == pytest.approx(true.distance_m, abs=1.0)
    # Ridden once, a track is ridden as recorded.
    once = build_course(loop_file(beyond_m=60.0, name="b.gpx"))
    assert once.distance_m == pytest.approx(0.5 * true.distance_m + 60.0, abs=1.0)


def test_laps_on_an_open_track_are_refused(made_road, sample_road, write_gpx):
    lats, lons = sample_road(made_road([(1000.0, np.inf)]), 5.0)
    with pytest.raises(InputError, match="1000 m apart"):
        build_course(write_gpx(lats, lons, [10.0] * len(lats)), n_laps=3)


def test_laps_in_the_track_itself_are_counted(loop_file):
    course = build_course(loop_file(4))
    assert course.n_laps == 4
    assert "4 laps of about 1.05 km" in texts(course)
    np.testing.assert_allclose(np.diff(course.lap_starts_m), LOOP_M, rtol=0.01)
    assert {corner.lap for corner in course.corners} == {1, 2, 3, 4}


def test_reversed_is_the_mirror_image(loop_file):
    path = loop_file()
    there, back = build_course(path), build_course(path, reverse=True)
    assert back.distance_m == pytest.approx(there.distance_m, abs=0.2)
    assert [corner.turn_rad > 0 for corner in there.corners] == [True] * 4
    assert [corner.turn_rad > 0 for corner in back.corners] == [False] * 4
    at = np.linspace(5.0, there.distance_m - 5.0, 200)
    heights = np.interp(at, there.node_distances_m, there.node_heights_m)
    other = np.interp(there.distance_m - at, back.node_distances_m, back.node_heights_m)
    np.testing.assert_allclose(other, heights, atol=0.05)
    both = build_course(settings(path, 'direction = "reversed"'), reverse=True)
    np.testing.assert_array_equal(both.grades, there.grades)


def test_start_may_lie_anywhere_on_a_loop(loop_file):
    path = loop_file()
    plain = build_course(path)
    moved = build_course(settings(path, "start_km = 0.4"))
    assert moved.is_closed
    assert moved.distance_m == pytest.approx(plain.distance_m, abs=0.05)
    at = np.linspace(0.0, 600.0, 100)
    height_there = np.interp(at + 400.0, plain.node_distances_m, plain.node_heights_m)
    height_here = np.interp(at, moved.node_distances_m, moved.node_heights_m)
    # The ends of the recording are smoothed from one side only.
    np.testing.assert_allclose(height_here, height_there, atol=0.1)


def test_finish_may_lie_anywhere(loop_file):
    path = loop_file()
    course = build_course(settings(path, "laps = 3\nstart_km = 0.1\nfinish_km = 0.6"))
    lap_m = build_course(path).distance_m
    # Two whole laps and half a kilometre.
    assert course.distance_m == pytest.approx(2 * lap_m + 500.0, abs=1.0)
    assert course.n_laps == 3
    part = build_course(settings(path, "start_km = 0.1\nfinish_km = 0.6"))
    assert part.distance_m == pytest.approx(500.0, abs=0.5)
    assert not part.is_closed
    over_the_line = build_course(settings(path, "start_km = 0.6\nfinish_km = 0.1"))
    assert over_the_line.distance_m == pytest.approx(lap_m - 500.0, abs=0.5)


def test_neutral_roll_out_is_not_ridden(loop_file):
    path = loop_file()
    whole = build_course(settings(path, "laps = 3"))
    course = build_course(settings(path, "laps = 3\nneutral_km = 0.3"))
    assert course.distance_m == pytest.approx(whole.distance_m - 300.0, abs=0.5)
    assert course.n_laps == 3
    lap_lengths = np.diff(course.lap_starts_m)
    assert lap_lengths[0] == pytest.approx(lap_lengths[1] - 300.0, abs=0.5)
    assert course.node_heights_m[0] == pytest.approx(
        np.interp(300.0, whole.node_distances_m, whole.node_heights_m), abs=0.02
    )


def test_out_and_back_and_figure_of_eight_are_no_laps(made_road, sample_road, write_gpx):
    turn = (np.pi * 6.0, 6.0)
    road = made_road([(800.0, np.inf), turn, (800.0, np.inf)])
    lats, lons = sample_road(road, 4.0)
    course = build_course(write_gpx(lats, lons, [10.0] * len(lats)))
    assert course.n_laps == 1
    assert len(course.corners) == 1
    assert abs(np.degrees(course.corners[0].turn_rad)) == pytest.approx(180.0, abs=5.0)
    # A figure of eight: the crossing is passed twice, in different directions.
    r = 60.0
    road = made_road(
        [(100, np.inf), (1.5 * np.pi * r, r), (240, np.inf), (1.5 * np.pi * r, -r), (60, np.inf)]
    )
    lats, lons = sample_road(road, 4.0)
    course = build_course(write_gpx(lats, lons, [10.0] * len(lats)))
    assert course.n_laps == 1
    assert sorted(np.sign(corner.turn_rad) for corner in course.corners) == [-1.0, 1.0]


def test_legs_of_a_mountain_road_are_no_laps(made_road, sample_road, write_gpx):
    # The third leg runs the way of the first, 13 m beside its start and 50 m above it.
    right, left = (np.pi * 3.2, 3.2), (np.pi * 3.2, -3.2)
    road = made_road([(350.0, np.inf), right, (370.0, np.inf), left, (4000.0, np.inf)])
    lats, lons = sample_road(road, 4.0)
    course = build_course(write_gpx(lats, lons, list(np.linspace(100.0, 430.0, len(lats)))))
    assert course.n_laps == 1


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("start_km = 9.0", "start_km"),
        ("finish_km = 5.0", "finish_km"),
        ("neutral_km = 4.0", "neutral_km"),
        ("[[fix]]\nfrom_km = 0.5\nto_km = 3.0", "straight grade"),
        ("[[fix]]\nfrom_km = 0.5\nto_km = 0.2", "end behind the start"),
        ("[[corner]]\nat_km = 2.0\nradius_m = 9", "corner"),
        ("[[corner]]\nat_km = 0.05", "no corner was found"),
        ("[[label]]\nat_km = 2.0\nname = 'x'", "label"),
        ("[[gate]]\nat_km = 2.0\nname = 'x'", "gate"),
        ("[[restart]]\nat_km = 2.0", "restart"),
        ("laps = 0", "laps"),
        ("surface = 'mud'", "smooth"),
        ("shelter = 2.0", "shelter"),
        ("shelter = 'hedge'", "one of open, .*; did you mean `hedges`"),
        ("surface = 'Gravel'", "did you mean `gravel`"),
        ("roughness_m = 0.5", "roughness_m"),
        ("road_widht_m = 5.0", "road_width_m"),
        ("heights = 'guess'", "heights"),
        ("zones = 'none.geojson'", "none.geojson"),
    ],
)
def test_wrong_settings_get_a_sentence(loop_file, text, words):
    with pytest.raises(InputError, match=words):
        build_course(settings(loop_file(), text))


def test_corner_overrides(loop_file):
    path = loop_file()
    plain = build_course(path)
    place = plain.corners[1].apex_m / 1000.0
    set_by_hand = build_course(
        settings(path, f'[[corner]]\nat_km = {place:.3f}\nradius_m = 7.5\nname = "the well"')
    )
    assert set_by_hand.corners[1].radius_m == 7.5
    assert set_by_hand.corners[1].name == "the well"
    assert np.isclose(set_by_hand.radii_m, 7.5).sum() > 10
    ignored = build_course(settings(path, f"[[corner]]\nat_km = {place:.3f}\nignore = true"))
    assert len(ignored.corners) == 3
    added = build_course(settings(path, "[[corner]]\nat_km = 0.07\nradius_m = 15.0"))
    assert len(added.corners) == 5
    assert "set by hand where none was found" in texts(added)


def test_gates_labels_and_stops(loop_file):
    path = loop_file()
    course = build_course(
        settings(
            path,
            "laps = 2\n[[restart]]\nat_km = 0.5\n"
            "[[gate]]\nat_km = 0.9\nname = 'b'\n[[gate]]\nat_km = 0.2\nname = 'a'\n"
            "[[label]]\nat_km = 0.2\nname = 'Quay'\n",
        )
    )
    assert [gate.name for gate in course.gates] == ["a", "b"]
    assert course.restarts_m == pytest.approx((500.0, 500.0 + course.lap_starts_m[1]), abs=0.5)
    assert course.features[0].name == "Quay"

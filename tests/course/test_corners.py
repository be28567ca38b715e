"""Corners against generated roads of known radius: none invented, none hidden."""

import numpy as np
import pytest
from scipy.optimize import brentq

from simulator.course.corners import (
    STRAIGHT_FROM_RADIUS_M,
    Bend,
    find_bends,
    line_half_extent_m,
    line_radius_m,
    radii_of_segments_m,
    ridden_lines,
)
from simulator.course.line import noise_across_m, smooth_line

STRAIGHT = (150.0, np.inf)
N_BENDS = 12
# A head unit in the open: 0.3 m from point to point, 1 m of drift (common practice, no source).
NOISE = {"white_m": 0.3, "drift_m": 1.0, "reach_m": 100.0}


def zigzag(made_road, radius_m, turn_deg):
    """Twelve bends, left and right in turn, with straights between."""
    arc = radius_m * np.radians(turn_deg)
    one = [STRAIGHT, (arc, radius_m), STRAIGHT, (arc, -radius_m)]
    return made_road(one * (N_BENDS // 2) + [STRAIGHT])


def bends_of(road, sample_road, step_m, **noise):
    return find_bends(smooth_line(*sample_road(road, step_m, **noise)))


@pytest.mark.parametrize(
    ("radius_m", "turn_deg"),
    [(6, 180), (8, 180), (15, 180), (10, 90), (20, 90), (50, 60), (100, 45)],
)
def test_clean_track_gives_the_radius(made_road, sample_road, radius_m, turn_deg):
    bends = bends_of(zigzag(made_road, radius_m, turn_deg), sample_road, 3.0)
    assert len(bends) == N_BENDS
    assert [np.sign(bend.turn_rad) for bend in bends] == [1.0, -1.0] * (N_BENDS // 2)
    # 5 % of radius is 2.5 % of speed.
    assert np.mean([bend.radius_m for bend in bends]) == pytest.approx(radius_m, rel=0.05)
    assert np.degrees(np.mean([abs(bend.turn_rad) for bend in bends])) == pytest.approx(
        turn_deg, abs=3.0
    )
    arc = radius_m * np.radians(turn_deg)
    for number, bend in enumerate(bends):
        middle = (number + 1) * STRAIGHT[0] + (number + 0.5) * arc
        assert bend.apex_m == pytest.approx(middle, rel=2e-3, abs=1.0)


@pytest.mark.parametrize(
    ("radius_m", "turn_deg", "share"),
    [
        (8, 180, 0.15),
        (12, 180, 0.12),
        (20, 180, 0.10),
        (20, 90, 0.20),
        (40, 90, 0.15),
        (60, 60, 0.20),
        (100, 60, 0.20),
    ],
)
@pytest.mark.parametrize("seed", [1, 2])
def test_noisy_one_hertz_track_hides_no_corner(
    made_road, sample_road, radius_m, turn_deg, share, seed
):
    # One point a second at 25 km/h.
    road = zigzag(made_road, radius_m, turn_deg)
    rng = np.random.default_rng(seed)
    bends = bends_of(road, sample_road, 7.0, rng=rng, **NOISE)
    assert len(bends) == N_BENDS
    assert np.mean([bend.radius_m for bend in bends]) == pytest.approx(radius_m, rel=share)
    assert np.degrees(np.mean([abs(bend.turn_rad) for bend in bends])) == pytest.approx(
        turn_deg, abs=6.0
    )


def test_tight_street_corners_come_out_wide_but_are_there(made_road, sample_road):
    """What one point in seven metres cannot tell: a 9 m corner looks up to twice as wide."""
    rng = np.random.default_rng(3)
    bends = bends_of(zigzag(made_road, 9.0, 90.0), sample_road, 7.0, rng=rng, **NOISE)
    assert len(bends) == N_BENDS
    radii = np.array([bend.radius_m for bend in bends])
    assert 9.0 < radii.mean() < 18.0
    assert np.degrees(np.mean([abs(bend.turn_rad) for bend in bends])) == pytest.approx(90, abs=6)


@pytest.mark.parametrize(
    ("white_m", "drift_m", "reach_m"), [(0.3, 2.0, 100.0), (0.5, 3.0, 50.0), (2.0, 0.0, 1.0)]
)
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_jitter_invents_no_corner(made_road, sample_road, white_m, drift_m, reach_m, seed):
    road = made_road([(15_000.0, np.inf)])
    rng = np.random.default_rng(seed)
    line = smooth_line(
        *sample_road(road, 7.0, rng=rng, white_m=white_m, drift_m=drift_m, reach_m=reach_m)
    )
    lap_m = float(line.places_m[-1])
    bends = ridden_lines(find_bends(line), side_m=1.0, lap_m=lap_m, is_closed=False)
    assert bends == []
    # The raw points wander 1 to 8 % too far; the smooth line does not.
    assert lap_m == pytest.approx(15_000.0, rel=2e-3)
    assert line.raw_m[-1] > 1.005 * lap_m


def test_noise_across_the_road_is_found_and_bends_are_not_noise(made_road, sample_road):
    road = zigzag(made_road, 30.0, 90.0)
    for sd_m in (0.3, 1.0, 2.0):
        rng = np.random.default_rng(5)
        lats, lons = sample_road(road, 7.0, rng=rng, white_m=sd_m)
        assert smooth_line(lats, lons).sd_m == pytest.approx(sd_m, rel=0.25)
    assert noise_across_m(np.full(50, 3.0), np.full(50, 4.0)) == 0.0


def test_a_steady_wide_bend_is_no_corner_and_keeps_its_length(made_road, sample_road):
    road = made_road([(3000.0, 400.0)])
    line = smooth_line(*sample_road(road, 7.0))
    assert find_bends(line) == []
    assert line.places_m[-1] == pytest.approx(3000.0, abs=7.5)
    middle = np.abs(line.curvatures_per_m[20:-20])
    assert middle.mean() == pytest.approx(1.0 / 400.0, rel=0.02)


def test_two_corners_stay_two_and_a_coarse_hairpin_stays_one(made_road, sample_road):
    right_angle = (12.0 * np.pi / 2.0, 12.0)
    for between_m, expected in ((40.0, 2), (80.0, 2)):
        road = made_road([STRAIGHT, right_angle, (between_m, np.inf), right_angle, STRAIGHT])
        assert len(bends_of(road, sample_road, 3.0)) == expected
    hairpin = made_road([STRAIGHT, (8.0 * np.pi, 8.0), STRAIGHT])
    for step_m in (2.0, 5.0, 8.0):
        assert len(bends_of(hairpin, sample_road, step_m)) == 1


def test_roundabout_shows_in_both_directions(made_road, sample_road):
    """In to the right, round to the left, out to the right: three bends."""
    quarter = np.pi / 4.0
    road = made_road(
        [
            STRAIGHT,
            (15.0 * quarter, 15.0),
            (12.0 * 2.0 * quarter, -12.0),
            (15.0 * quarter, 15.0),
            STRAIGHT,
        ]
    )
    bends = bends_of(road, sample_road, 3.0)
    assert [np.sign(bend.turn_rad) for bend in bends] == [1.0, -1.0, 1.0]
    assert sum(bend.turn_rad for bend in bends) == pytest.approx(0.0, abs=0.1)


# --- the line between the kerbs ---


def arc_between_kerbs_m(radius_m, turn_rad, side_m):
    """Radius of the arc that runs from kerb to kerb, by construction instead of by formula.

    Coordinates: the bend's bisector is the y axis, the centre of the road's own arc the origin;
    the apex of the road's middle at (0, -R), kerbs `side` to either side. The straight that leaves
    the bend has direction (cos θ/2, sin θ/2). An arc symmetric about the y axis with its lowest
    point at the inside kerb (0, -(R - side)) has its centre at (0, r - R + side); it touches the
    outer edge of the straight when its centre is r away from that line.
    """
    half = 0.5 * turn_rad
    along = np.array([np.cos(half), np.sin(half)])
    outward = np.array([np.sin(half), -np.cos(half)])
    edge_point = (radius_m + side_m) * outward

    def miss(r):
        centre = np.array([0.0, r - radius_m + side_m])
        off = edge_point - centre
        return np.hypot(*(off - (off @ along) * along)) - r

    return brentq(miss, radius_m + 1e-9, 1e6)


@pytest.mark.parametrize("turn_deg", [20, 45, 90, 120, 179])
@pytest.mark.parametrize(("radius_m", "side_m"), [(8.0, 1.0), (15.0, 3.0), (60.0, 2.0)])
def test_line_radius_is_that_of_the_arc_between_the_kerbs(radius_m, side_m, turn_deg):
    turn = np.radians(turn_deg)
    expected = arc_between_kerbs_m(radius_m, turn, side_m)
    assert line_radius_m(radius_m, turn, side_m) == pytest.approx(expected, rel=1e-6)


def test_line_radius_in_known_cases():
    assert line_radius_m(10.0, np.pi, 2.0) == pytest.approx(12.0)
    assert line_radius_m(10.0, np.pi / 2.0, 0.0) == pytest.approx(10.0)
    assert line_radius_m(10.0, -np.pi / 2.0, 2.0) == line_radius_m(10.0, np.pi / 2.0, 2.0)
    # (1 + cos 45°)/(1 - cos 45°) = 3 + 2√2
    assert line_radius_m(10.0, np.pi / 2.0, 2.0) == pytest.approx(10.0 + 2.0 * (3 + 2 * 2**0.5))


@pytest.mark.parametrize("turn_deg", [30, 90, 150, 180])
def test_the_ridden_arc_starts_where_geometry_says(turn_deg):
    radius_m, side_m, turn = 12.0, 2.0, np.radians(turn_deg)
    half = 0.5 * turn
    line_m = line_radius_m(radius_m, turn, side_m)
    # Foot of the arc's end on the middle of the straight, from the road's own tangent point.
    centre_y = line_m - radius_m + side_m
    end = np.array([0.0, centre_y]) + line_m * np.array([np.sin(half), -np.cos(half)])
    tangent_point = radius_m * np.array([np.sin(half), -np.cos(half)])
    beyond = float((end - tangent_point) @ np.array([np.cos(half), np.sin(half)]))
    expected = radius_m * half + beyond
    assert line_half_extent_m(radius_m, turn, side_m) == pytest.approx(expected, rel=1e-9)


def made_bend(apex_m, radius_m=10.0, turn_rad=np.pi / 2.0):
    half = 0.5 * radius_m * abs(turn_rad)
    return Bend(
        start_m=apex_m - half,
        apex_m=apex_m,
        end_m=apex_m + half,
        radius_m=radius_m,
        turn_rad=turn_rad,
        line_radius_m=radius_m,
        line_start_m=apex_m - half,
        line_end_m=apex_m + half,
    )


def test_close_neighbours_share_the_room():
    alone = ridden_lines([made_bend(500.0)], side_m=3.0, lap_m=1000.0, is_closed=False)[0]
    pair = ridden_lines(
        [made_bend(500.0), made_bend(520.0, turn_rad=-np.pi / 2.0)],
        side_m=3.0,
        lap_m=1000.0,
        is_closed=False,
    )
    assert alone.line_radius_m == pytest.approx(line_radius_m(10.0, np.pi / 2.0, 3.0))
    for bend in pair:
        assert 10.0 <= bend.line_radius_m < alone.line_radius_m
    assert pair[0].line_end_m <= pair[1].line_start_m + 1e-9


def test_a_loop_knows_the_neighbour_across_its_line():
    bends = [made_bend(10.0), made_bend(990.0)]
    open_ends = ridden_lines(bends, side_m=3.0, lap_m=1000.0, is_closed=False)
    loop = ridden_lines(bends, side_m=3.0, lap_m=1000.0, is_closed=True)
    assert loop[0].line_radius_m < open_ends[0].line_radius_m
    radii = radii_of_segments_m(
        np.array([995.0, 999.5, 0.5, 5.0, 500.0]), loop, lap_m=1000.0, is_closed=True
    )
    assert np.isfinite(radii[[0, 3]]).all()
    assert np.isinf(radii[4])


def test_more_road_never_makes_a_corner_tighter():
    for turn_deg in (30, 60, 90, 150):
        radii = [line_radius_m(12.0, np.radians(turn_deg), side) for side in (0.0, 1.0, 2.0, 4.0)]
        assert radii == sorted(radii)
    gentle = made_bend(500.0, radius_m=30.0, turn_rad=np.radians(20.0))
    assert ridden_lines([gentle], side_m=3.0, lap_m=1e3, is_closed=False) == []
    assert line_radius_m(30.0, np.radians(20.0), 3.0) > STRAIGHT_FROM_RADIUS_M

"""The plan of the road: a smooth line through noisy points, its heading and curvature.

Positions are smoothed as a curve over the distance along the points, with a penalty on the change
of curvature that is lifted where the points themselves ask for a bend: straights and steady bends
stay calm, hairpins stay sharp. The working plane is unrolled leg by leg from the ellipsoid, so
that it is true to scale everywhere, however long the course.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from simulator.course.course import FloatArray
from simulator.course.geometry import cumulative, leg_components_m, shifted_positions_deg
from simulator.course.smooth import SplineProblem, UniformSpline

# Position noise that is believed (one axis, the part that differs from point to point).
_SD_LIMITS_M = (0.15, 4.0)
_DENSE_POINTS_M = 10.0
# How a straight road bends: variance of the change of curvature per metre (1/m²)²·m, so that the
# curvature wanders by about 1/500 m over 100 m; and the change of curvature per metre beyond which
# a bend is meant, not wander. Tuned on nothing but roads of known radius with noise (tests/course).
_CALM_DENSITY_PER_M3 = 4e-8
_BEND_PER_M2 = 2e-4
_ROUNDS = 10
# Longer legs are straight by the recorder's or drawer's will; they get points in between.
_LONG_LEG_M = 20.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Line:
    """A smooth line, sampled finely.

    Attributes
    ----------
    raw_m : (n,) array
        Distance along the raw points at each sample: the key to the points' own data.
    places_m : (n,) array
        Distance along the smooth line, from 0 where the raw distance is 0.
    easts_m, norths_m : (n,) arrays
        Smooth position in the unrolled plane.
    shift_easts_m, shift_norths_m : (n,) arrays
        How far smoothing moved the line.
    headings_rad : (n,) array
        Direction, clockwise from true north, unwrapped.
    curvatures_per_m : (n,) array
        Change of heading per metre, positive to the right.
    sd_m : float
        Estimated noise of the points across the road.
    """

    raw_m: FloatArray
    places_m: FloatArray
    easts_m: FloatArray
    norths_m: FloatArray
    shift_easts_m: FloatArray
    shift_norths_m: FloatArray
    headings_rad: FloatArray
    curvatures_per_m: FloatArray
    sd_m: float

    def place_of_raw_m(self, raw_m: FloatArray) -> FloatArray:
        """Distance along the smooth line of a distance along the raw points."""
        return np.interp(raw_m, self.raw_m, self.places_m)

    def raw_of_place_m(self, places_m: FloatArray) -> FloatArray:
        """Distance along the raw points of a distance along the smooth line."""
        return np.interp(places_m, self.places_m, self.raw_m)


def smooth_line(lats_deg: FloatArray, lons_deg: FloatArray, *, sd_m: float | None = None) -> Line:
    """Smooth a polyline of points on the ellipsoid.

    Parameters
    ----------
    lats_deg, lons_deg : (n,) arrays
        Points in riding order, no two consecutive ones in the same place.
    sd_m : float, optional
        Noise of each point across the road; estimated from the points if left out.

    Returns
    -------
    Line
    """
    legs_east, legs_north = leg_components_m(lats_deg, lons_deg)
    east, north = cumulative(legs_east), cumulative(legs_north)
    lengths = np.hypot(legs_east, legs_north)
    raw = cumulative(lengths)
    sd = noise_across_m(legs_east, legs_north) if sd_m is None else sd_m
    sd = float(np.clip(sd, *_SD_LIMITS_M))
    places = _with_points_in_long_legs(raw, lengths)
    points = np.stack([np.interp(places, raw, east), np.interp(places, raw, north)], axis=1)
    step = float(np.clip(np.median(lengths) / 3.0, 1.5, 4.0))
    spline, problem_step = _fit(places, points, sd, step)
    return _sampled(spline, problem_step, raw, east, north, sd)


def noise_across_m(legs_east_m: FloatArray, legs_north_m: FloatArray) -> float:
    """Noise of points across the road, from third differences.

    Third differences vanish on straights and steady bends; the median forgets corners.

    Parameters
    ----------
    legs_east_m, legs_north_m : (n,) arrays
        Parts of the legs between points.

    Returns
    -------
    float
        Standard deviation in metres; 0 for fewer than eight legs.
    """
    if len(legs_east_m) < 8:
        return 0.0
    # Uneven spacing leaks the way along the road into differences; only the part across counts.
    along_east = legs_east_m[:-2] + legs_east_m[1:-1] + legs_east_m[2:]
    along_north = legs_north_m[:-2] + legs_north_m[1:-1] + legs_north_m[2:]
    chord = np.hypot(along_east, along_north)
    third_east = legs_east_m[2:] - 2.0 * legs_east_m[1:-1] + legs_east_m[:-2]
    third_north = legs_north_m[2:] - 2.0 * legs_north_m[1:-1] + legs_north_m[:-2]
    with np.errstate(invalid="ignore", divide="ignore"):
        across = (third_east * along_north - third_north * along_east) / chord
    across = across[np.isfinite(across)]
    if not len(across):
        return 0.0
    # Third differences of a winding road grow with the cube of the spacing: of sparse points less
    # and less of them is noise.
    spacing = float(np.median(np.hypot(legs_east_m, legs_north_m)))
    trust = min(1.0, (_DENSE_POINTS_M / spacing) ** 2)
    # 1.4826 makes the median of absolute values a standard deviation (normal errors); the third
    # difference of independent errors has variance 1 + 9 + 9 + 1 = 20.
    return float(trust * 1.4826 * np.median(np.abs(across)) / np.sqrt(20.0))


def _with_points_in_long_legs(raw: FloatArray, lengths: FloatArray) -> FloatArray:
    is_long = lengths > _LONG_LEG_M
    if not is_long.any():
        return raw
    extra = [
        np.linspace(start, stop, int(np.ceil((stop - start) / (0.5 * _LONG_LEG_M))) + 1)[1:-1]
        for start, stop in zip(raw[:-1][is_long], raw[1:][is_long], strict=True)
    ]
    return np.sort(np.concatenate([raw, *extra]))


def _fit(
    places: FloatArray, points: FloatArray, sd: float, step: float
) -> tuple[UniformSpline, float]:
    problem = SplineProblem(
        places_m=places,
        values=points,
        weights=np.full(len(places), 1.0 / sd**2),
        step_m=step,
    )
    h = problem.step_m
    stiff = 1.0 / (_CALM_DENSITY_PER_M3 * h**5)
    ease = np.ones(problem.n_coefs - 3)
    for _ in range(_ROUNDS):
        spline = problem.solve(order=3, penalties=stiff * ease)
        change = np.diff(spline.coefs, n=3, axis=0) / h**3
        ease = 1.0 / (1.0 + np.sum(change**2, axis=1) / _BEND_PER_M2**2)
    return spline, h


def _sampled(
    spline: UniformSpline,
    h: float,
    raw: FloatArray,
    east: FloatArray,
    north: FloatArray,
    sd: float,
) -> Line:
    knots = spline.knots_m
    position, slope, bend = spline.knot_values(), spline.knot_slopes(), spline.knot_bends()
    speed = np.hypot(slope[:, 0], slope[:, 1])
    # Between two knots the second derivative is linear, so the slope at the middle is exact.
    middle = 0.5 * (slope[:-1] + slope[1:]) - np.diff(bend, axis=0) * (h / 8.0)
    mid_speed = np.hypot(middle[:, 0], middle[:, 1])
    lengths = h / 6.0 * (speed[:-1] + 4.0 * mid_speed + speed[1:])
    curvature = (slope[:, 1] * bend[:, 0] - slope[:, 0] * bend[:, 1]) / np.maximum(speed, 0.05) ** 3
    return Line(
        raw_m=knots,
        places_m=cumulative(lengths),
        easts_m=position[:, 0],
        norths_m=position[:, 1],
        shift_easts_m=position[:, 0] - np.interp(knots, raw, east),
        shift_norths_m=position[:, 1] - np.interp(knots, raw, north),
        headings_rad=np.unwrap(np.arctan2(slope[:, 0], slope[:, 1])),
        curvatures_per_m=curvature,
        sd_m=sd,
    )


def positions_at(
    line: Line,
    raw_points_m: FloatArray,
    lats_deg: FloatArray,
    lons_deg: FloatArray,
    places_m: FloatArray,
) -> tuple[FloatArray, FloatArray]:
    """Latitudes and longitudes of places on the smooth line.

    Parameters
    ----------
    line : Line
    raw_points_m, lats_deg, lons_deg : (n,) arrays
        The raw points (longitudes unwrapped) and their distances.
    places_m : (k,) array
        Distances along the smooth line.
    """
    raw = line.raw_of_place_m(places_m)
    return shifted_positions_deg(
        np.interp(raw, raw_points_m, lats_deg),
        np.interp(raw, raw_points_m, lons_deg),
        np.interp(raw, line.raw_m, line.shift_easts_m),
        np.interp(raw, line.raw_m, line.shift_norths_m),
    )

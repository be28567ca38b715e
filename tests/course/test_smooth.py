"""Heights: noise is recognised, grades come back, roads keep their ascent."""

import numpy as np
import pytest

from simulator.course.noise import LEVELS, estimate_noise
from simulator.course.smooth import SplineProblem, smooth_heights


def hills(along_m, seed):
    """A road that rises and falls on five scales, grades up to about 9 %."""
    rng = np.random.default_rng(seed)
    height = np.zeros_like(along_m)
    for length_m, grade in ((8000, 0.03), (2500, 0.025), (900, 0.02), (400, 0.012)):
        wave = 2.0 * np.pi * along_m / length_m
        height += grade * length_m / (2.0 * np.pi) * np.sin(wave + rng.uniform(0.0, 6.3))
    return height


def smoothed(along_m, raw_m):
    noise = estimate_noise(along_m, raw_m)
    spline = smooth_heights(
        places_m=along_m,
        heights_m=raw_m,
        noise_density_m3=noise.density_m3(np.gradient(along_m)),
        bend_density_per_m=noise.bend_density_per_m,
    )
    return spline, noise


@pytest.fixture(scope="module")
def along():
    return np.cumsum(np.random.default_rng(3).uniform(5.0, 11.0, 5000))


def grade_error(spline, along_m, true_m):
    knots = spline.knots_m[5:-5]
    true = np.gradient(np.interp(spline.knots_m, along_m, true_m), spline.knots_m)[5:-5]
    assert len(knots) == len(true)
    return float(np.std(spline.knot_slopes()[5:-5] - true))


@pytest.mark.parametrize(
    ("source", "most_sd", "most_grade_error", "ascent_share"),
    [("barometric", 0.6, 0.006, 0.03), ("satellite", 5.0, 0.018, 0.12)],
)
def test_published_noise_levels(along, drift, source, most_sd, most_grade_error, ascent_share):
    level = LEVELS[source]
    true = hills(along, 1)
    rng = np.random.default_rng(2)
    raw = true + drift(rng, along, level.sd_m, level.reach_m)
    if source == "barometric":
        raw = np.round(raw / 0.2) * 0.2
    spline, noise = smoothed(along, raw)
    assert noise.sd_m < most_sd
    error = grade_error(spline, along, true)
    raw_error = float(np.std(np.diff(raw - true) / np.diff(along)))
    assert error < most_grade_error
    assert error < raw_error / 5.0
    climbed = np.maximum(np.diff(spline.knot_values()), 0.0).sum()
    assert climbed == pytest.approx(np.maximum(np.diff(true), 0.0).sum(), rel=ascent_share)


def test_exact_heights_are_left_alone(along):
    true = hills(along, 5)
    spline, noise = smoothed(along, true)
    assert noise.sd_m == 0.1  # the least that is believed
    assert np.abs(spline.at(along) - true).max() < 0.25
    assert grade_error(spline, along, true) < 0.001


def test_noise_on_a_flat_road_makes_no_hills(along, drift):
    rng = np.random.default_rng(9)
    raw = np.round((20.0 + drift(rng, along, 0.3, 10.0)) / 0.2) * 0.2
    spline, _ = smoothed(along, raw)
    assert np.maximum(np.diff(raw), 0.0).sum() > 300.0
    assert np.maximum(np.diff(spline.knot_values()), 0.0).sum() < 8.0


def test_more_noise_means_a_stiffer_spline(along, drift):
    rng = np.random.default_rng(4)
    true = hills(along, 6)
    error = drift(rng, along, 1.0, 10.0)
    sizes = []
    for sd in (0.2, 0.5, 1.0):
        spline, _ = smoothed(along, true + sd * error)
        sizes.append(float(np.abs(spline.knot_bends()).mean()))
    assert sizes[0] > sizes[1] > sizes[2]


def test_white_noise_size_is_found(along):
    rng = np.random.default_rng(8)
    for sd in (0.3, 0.6):
        noise = estimate_noise(along, hills(along, 7) + rng.normal(0.0, sd, len(along)))
        # Interpolation between points 8 m apart on average calms the noise by up to a third.
        assert 0.6 * sd < noise.sd_m < 1.4 * sd


def test_short_roads_get_the_default():
    assert estimate_noise(np.arange(5.0) * 10.0, np.arange(5.0)) == LEVELS["barometric"]


def test_a_straight_grade_comes_back_exactly():
    places = np.linspace(0.0, 1000.0, 200)
    spline = smooth_heights(
        places_m=places,
        heights_m=5.0 + 0.06 * places,
        noise_density_m3=50.0,
        bend_density_per_m=1e-7,
    )
    np.testing.assert_allclose(spline.knot_slopes(), 0.06, atol=1e-6)
    np.testing.assert_allclose(spline.at(places), 5.0 + 0.06 * places, atol=1e-4)


def test_the_banded_solution_is_the_dense_one():
    """A slow, obvious twin: the same least squares with dense matrices."""
    rng = np.random.default_rng(1)
    places = np.sort(rng.uniform(0.0, 300.0, 60))
    values, weights = rng.normal(size=60), rng.uniform(0.5, 2.0, 60)
    problem = SplineProblem(places_m=places, values=values, weights=weights, step_m=25.0)
    for order in (2, 3):
        penalty = rng.uniform(0.5, 2.0, problem.n_coefs - order)
        spline = problem.solve(order=order, penalties=penalty)
        unit = np.eye(problem.n_coefs)
        basis = np.stack(
            [
                problem.fitted(type(spline)(start_m=0.0, step_m=1.0, coefs=unit[k]))
                for k in range(problem.n_coefs)
            ],
            axis=1,
        )
        differences = np.diff(unit, n=order, axis=0)
        normal = basis.T * weights @ basis + differences.T * penalty @ differences
        expected = np.linalg.solve(normal, basis.T @ (weights * values))
        np.testing.assert_allclose(spline.coefs, expected, atol=1e-9)

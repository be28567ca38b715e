"""The way down over many variables with kinks: known bottoms, bounds, kinks that hold."""

import numpy as np
import pytest

from simulator.powerplan.climbdown import Slope, descend

N = 40


def walk(value, slope, start, *, tolerance=1e-14):
    return descend(
        value, slope, start, low=-np.ones(N), high=np.ones(N), tolerance=tolerance, most_steps=2000
    )


def test_bottom_of_a_bowl_of_very_unlike_widths():
    widths = np.logspace(0, 4, N)
    middle = np.linspace(-0.8, 0.9, N)

    def value(x):
        return float(0.5 * np.sum(widths * (x - middle) ** 2))

    def slope(x):
        g = widths * (x - middle)
        return Slope(value=value(x), below=g, above=g)

    found = walk(value, slope, np.zeros(N))
    assert found.is_settled
    assert found.x == pytest.approx(middle, abs=1e-4)


def test_kinks_at_zero_hold_what_they_should():
    # Sum of 0.5 (x - m)² + k |x|: the bottom is at m moved towards zero by k, or at zero (the
    # soft threshold, textbook).
    middle = np.linspace(-0.9, 0.9, N)
    kink = 0.3

    def value(x):
        return float(np.sum(0.5 * (x - middle) ** 2 + kink * np.abs(x)))

    def slope(x):
        return Slope(
            value=value(x),
            below=x - middle + np.where(x > 0.0, kink, -kink),
            above=x - middle + np.where(x < 0.0, -kink, kink),
        )

    found = walk(value, slope, np.full(N, 0.5))
    wanted = np.sign(middle) * np.maximum(np.abs(middle) - kink, 0.0)
    assert found.x == pytest.approx(wanted, abs=1e-6)
    assert np.count_nonzero(found.x == 0.0) == np.count_nonzero(wanted == 0.0)


def test_bounds_hold():
    def value(x):
        return float(np.sum(x * np.linspace(-1.0, 1.0, N)))

    def slope(x):
        g = np.linspace(-1.0, 1.0, N)
        return Slope(value=value(x), below=g, above=g)

    found = walk(value, slope, np.zeros(N))
    assert found.x == pytest.approx(np.where(np.arange(N) < N / 2, 1.0, -1.0))
    assert found.gained == 0.0


def test_a_place_without_a_value_is_stepped_back_from():
    def value(x):
        return float("inf") if np.any(x > 0.5) else float(-np.sum(x))

    def slope(x):
        g = -np.ones(N)
        return Slope(value=value(x), below=g, above=g)

    found = walk(value, slope, np.zeros(N), tolerance=1e-9)
    assert np.isfinite(found.value)
    assert found.x.max() <= 0.5
    assert found.x.min() > 0.4

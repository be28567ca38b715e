"""Hollows filled: our own closing against that of a general library."""

import numpy as np
import pytest
from scipy.ndimage import grey_closing

from simulator.course.profile import closed


@pytest.mark.parametrize("width", [1, 2, 7, 22])
def test_closing_is_that_of_scipy(width):
    values = np.cumsum(np.random.default_rng(width).standard_normal(400))
    ours = closed(values, width)
    assert (ours >= values).all()
    inside = slice(width, -width)
    assert ours[inside] == pytest.approx(grey_closing(values, size=(width,))[inside], abs=1e-12)


def test_a_narrow_hollow_is_filled_and_a_wide_one_is_kept():
    values = np.zeros(60)
    values[10:13] = -5.0
    values[30:50] = -5.0
    assert closed(values, 5)[10:13].tolist() == [0.0, 0.0, 0.0]
    assert closed(values, 5)[35:45].tolist() == [-5.0] * 10

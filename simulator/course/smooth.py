"""Penalised splines over distance: the one smoother for heights and for the plan of the road.

Cubic B-splines on even knots with a penalty on differences of their coefficients (Eilers and
Marx 1996, [Eilers1996]), solved as one banded system: cost grows in proportion to the length of
the road. How stiff the spline is follows from two densities and nothing else: how noisy the data
are and how much the road itself bends. See ``noise.py`` for where these come from.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import comb

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import solveh_banded

from simulator.course.course import FloatArray

# A fifth would keep the variance of the grades exactly if roads were the random walk they are taken
# for: ∫(1 + x)/(1 + cx)² − 1 over grades of spectrum k⁻², x = k⁴, vanishes at c = 1/5. Roads are
# calmer than that over short stretches. Half keeps a 40 km ride's time within 0.3 % on average
# for every source of heights (tests/course/test_time_error.py).
_SHARE_OF_BEST_GUESS = 0.5


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class UniformSpline:
    """A cubic spline with even knots.

    Attributes
    ----------
    start_m, step_m : float
        Place of the first knot and distance between knots.
    coefs : (n_coefs,) or (n_coefs, k) array
        B-spline coefficients, two more than there are intervals plus one.
    """

    start_m: float
    step_m: float
    coefs: FloatArray

    @property
    def knots_m(self) -> FloatArray:
        """Places of the knots."""
        return self.start_m + self.step_m * np.arange(len(self.coefs) - 2, dtype=np.float64)

    def at(self, places_m: FloatArray) -> FloatArray:
        """Values at any places within the knots."""
        first, weights = _basis(places_m, self.start_m, self.step_m, len(self.coefs))
        return _dot(weights, self.coefs, first)

    def knot_values(self) -> FloatArray:
        """Values at the knots."""
        c = self.coefs
        return (c[:-2] + 4.0 * c[1:-1] + c[2:]) / 6.0

    def knot_slopes(self) -> FloatArray:
        """First derivative at the knots."""
        return (self.coefs[2:] - self.coefs[:-2]) / (2.0 * self.step_m)

    def knot_bends(self) -> FloatArray:
        """Second derivative at the knots."""
        c = self.coefs
        return (c[:-2] - 2.0 * c[1:-1] + c[2:]) / self.step_m**2


class SplineProblem:
    """Data and knots of a penalised fit; solved again and again with other penalties.

    Parameters
    ----------
    places_m : (n,) array
        Increasing.
    values : (n,) or (n, k) array
    weights : (n,) array
        One over the variance of each value.
    step_m : float
        Wanted knot distance; adjusted so that the knots end on the last place.
    """

    def __init__(
        self, *, places_m: FloatArray, values: FloatArray, weights: FloatArray, step_m: float
    ) -> None:
        span = float(places_m[-1] - places_m[0])
        n_intervals = max(4, int(np.ceil(span / step_m)))
        self.start_m = float(places_m[0])
        self.step_m = span / n_intervals
        self.n_coefs = n_intervals + 3
        self._first, self._basis = _basis(places_m, self.start_m, self.step_m, self.n_coefs)
        self._bands = np.zeros((4, self.n_coefs))
        for i in range(4):
            for j in range(i, 4):
                self._bands[3 - (j - i)] += np.bincount(
                    self._first + j,
                    weights * self._basis[:, i] * self._basis[:, j],
                    minlength=self.n_coefs,
                )
        columns = values.reshape(len(places_m), -1)
        self._right = np.zeros((self.n_coefs, columns.shape[1]))
        for k in range(columns.shape[1]):
            for i in range(4):
                self._right[:, k] += np.bincount(
                    self._first + i,
                    weights * self._basis[:, i] * columns[:, k],
                    minlength=self.n_coefs,
                )
        self._is_flat = values.ndim == 1

    def solve(self, *, order: int, penalties: FloatArray | float) -> UniformSpline:
        """Fit with a penalty on the squared differences of the coefficients.

        Parameters
        ----------
        order : int
            Order of the differences, 2 or 3.
        penalties : (n_coefs - order,) array or float
            Weight of each squared difference.

        Returns
        -------
        UniformSpline
        """
        bands = self._bands.copy()
        signs = [(-1.0) ** (order - k) * comb(order, k) for k in range(order + 1)]
        n_rows = self.n_coefs - order
        weight = np.broadcast_to(np.asarray(penalties, dtype=np.float64), (n_rows,))
        for i in range(order + 1):
            for j in range(i, order + 1):
                bands[3 - (j - i), j : j + n_rows] += signs[i] * signs[j] * weight
        coefs = solveh_banded(bands, self._right, overwrite_ab=True, check_finite=False)
        return UniformSpline(
            start_m=self.start_m,
            step_m=self.step_m,
            coefs=coefs[:, 0] if self._is_flat else coefs,
        )

    def fitted(self, spline: UniformSpline) -> FloatArray:
        """Values of a spline at the data places."""
        return _dot(self._basis, spline.coefs, self._first)


def smooth_heights(
    *,
    places_m: FloatArray,
    heights_m: FloatArray,
    noise_density_m3: FloatArray | float,
    bend_density_per_m: float,
    step_m: float = 10.0,
) -> UniformSpline:
    """Heights over distance with the stiffness that the noise asks for.

    The road is taken as a random walk of its grade, the data as road plus noise; the stiffest
    spline used would then be the best linear guess of the road ([Wahba1978]), with half power at
    the wavelength 2π·(noise density / bend density)^(1/4). That guess is flatter than the road,
    and a ride's time follows from how uneven the grades are, so half its stiffness is used.

    Parameters
    ----------
    places_m, heights_m : (n,) arrays
        Increasing distances and raw heights.
    noise_density_m3 : (n,) array or float
        Variance of the heights times the distance over which one error lasts, in m²·m.
    bend_density_per_m : float
        Variance of the change of grade per metre of road.
    step_m : float
        Knot distance.

    Returns
    -------
    UniformSpline
        Heights in metres.
    """
    spacings_m = np.gradient(places_m)
    problem = SplineProblem(
        places_m=places_m,
        values=heights_m,
        weights=spacings_m / np.asarray(noise_density_m3),
        step_m=step_m,
    )
    stiffness = _SHARE_OF_BEST_GUESS / (bend_density_per_m * problem.step_m**3)
    return problem.solve(order=2, penalties=stiffness)


def _basis(
    places_m: FloatArray, start_m: float, step_m: float, n_coefs: int
) -> tuple[NDArray[np.intp], FloatArray]:
    """Index of the first of four B-splines at each place, and their values."""
    scaled = (places_m - start_m) / step_m
    first = np.clip(np.floor(scaled).astype(np.intp), 0, n_coefs - 4)
    u = scaled - first
    v = 1.0 - u
    weights = np.stack(
        [
            v**3 / 6.0,
            (3.0 * u**3 - 6.0 * u**2 + 4.0) / 6.0,
            (3.0 * v**3 - 6.0 * v**2 + 4.0) / 6.0,
            u**3 / 6.0,
        ],
        axis=1,
    )
    return first, weights


def _dot(weights: FloatArray, coefs: FloatArray, first: NDArray[np.intp]) -> FloatArray:
    if coefs.ndim == 1:
        total: FloatArray = sum(weights[:, k] * coefs[first + k] for k in range(4))  # type: ignore[assignment]
    else:
        total = sum(weights[:, k, None] * coefs[first + k] for k in range(4))  # type: ignore[assignment]
    return total

"""How noisy heights are: shipped levels by source, and an estimate from the data themselves.

The estimate looks at second differences of the heights at many lags. A road that wanders in grade
makes them grow with the cube of the lag; noise makes them jump at once (independent errors) or
grow in proportion to the lag up to its reach (drifting errors). Three numbers are fitted to that
curve: size of the noise, its reach, and how fast the road's grade changes.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from simulator.course.course import FloatArray

_REACHES_M = (0.0, 5.0, 10.0, 20.0, 40.0, 80.0, 160.0)
_DRIFTING_REACHES_M = (160.0,)
_SATELLITE_FROM_SD_M = 0.8
_SATELLITE_FROM_REACH_M = 40.0
_UNDULATIONS_M = (np.inf, 400.0, 150.0)
_MAX_LAG_M = 400.0
_CLEARLY_BETTER = 0.9
_TRIM_SHARE = 0.04


@dataclass(frozen=True, slots=True, kw_only=True)
class HeightNoise:
    """Errors of a height source and the restlessness of the road under them.

    Attributes
    ----------
    sd_m : float
        Standard deviation of one height, as far as it changes along the road (a constant offset
        does not matter for grades).
    reach_m : float
        Distance over which an error lasts (exponential correlation length).
    bend_density_per_m : float
        Variance of the change of grade per metre of road.
    """

    sd_m: float
    reach_m: float
    bend_density_per_m: float

    def density_m3(self, spacings_m: FloatArray) -> FloatArray:
        """Variance times the distance over which one error lasts, for each point."""
        return self.sd_m**2 * np.maximum(2.0 * self.reach_m, spacings_m)


# Least noise that is believed, by source. Barometric head units write steps of 0.1 to 0.2 m and
# wander by a few decimetres with gusts (common practice, no source). Satellite heights: 2020 GPS
# performance standard promises 13 m vertical at 95 % (from memory), receivers do two to three times
# better; the error lasts about half a minute (common practice, no source). Tiles: runway profiles
# against one-arc-second radar heights gave 1.55 m instrumental error, tripled at three seconds
# ([Becek2008]); an error lasts about one post.
LEVELS = {
    "barometric": HeightNoise(sd_m=0.3, reach_m=10.0, bend_density_per_m=1e-6),
    "satellite": HeightNoise(sd_m=2.5, reach_m=150.0, bend_density_per_m=1e-6),
    "tiles_30m": HeightNoise(sd_m=1.55, reach_m=30.0, bend_density_per_m=1e-6),
    "tiles_90m": HeightNoise(sd_m=2.5, reach_m=90.0, bend_density_per_m=1e-6),
}
_BEND_LIMITS_PER_M = (1e-8, 2e-5)
_SD_LIMITS_M = (0.1, 15.0)


def estimate_noise(
    places_m: FloatArray, heights_m: FloatArray, *, reach_m: float | None = None
) -> HeightNoise:
    """Noise of raw heights along a road, judged from the heights alone.

    Parameters
    ----------
    places_m : (n,) array
        Increasing distances.
    heights_m : (n,) array
    reach_m : float, optional
        How far one error reaches, where the source is known.

    Returns
    -------
    HeightNoise
        Clipped to believable sizes. On a road too short to tell (under ten points or 200 m) the
        barometric level.
    """
    length_m = float(places_m[-1] - places_m[0])
    if len(places_m) < 10 or length_m < 200.0:
        return LEVELS["barometric"]
    step_m = max(5.0, float(np.median(np.diff(places_m))))
    grid = np.arange(places_m[0], places_m[-1], step_m)
    heights = np.interp(grid, places_m, heights_m)
    lags, spread = [], []
    lag = 1
    while lag * step_m <= min(_MAX_LAG_M, length_m / 6.0):
        second = heights[: -2 * lag] - 2.0 * heights[lag:-lag] + heights[2 * lag :]
        squares = np.sort(second**2)
        # A few bad points must not pass for noise everywhere.
        squares = squares[: max(1, round((1.0 - _TRIM_SHARE) * len(squares)))]
        lags.append(lag * step_m)
        spread.append(max(float(squares.mean()), 1e-6))
        lag = lag + 1 if lag < 4 else round(lag * 1.5)
    if reach_m is not None:
        return _fit(np.array(lags), np.array(spread), (reach_m,))
    found = _fit(np.array(lags), np.array(spread), _REACHES_M)
    if found.sd_m > _SATELLITE_FROM_SD_M and found.reach_m >= _SATELLITE_FROM_REACH_M:
        # A barometer is never that bad. Satellite heights drift, and drift over a hundred metres
        # looks much like a rolling road: here the source is the better witness.
        found = _fit(np.array(lags), np.array(spread), _DRIFTING_REACHES_M)
    return found


def at_least(noise: HeightNoise, level: HeightNoise) -> HeightNoise:
    """An estimate that is not believed below a source's known level."""
    return HeightNoise(
        sd_m=max(noise.sd_m, level.sd_m),
        reach_m=max(noise.reach_m, level.reach_m),
        bend_density_per_m=noise.bend_density_per_m,
    )


def _fit(lags_m: FloatArray, spread_m2: FloatArray, reaches_m: tuple[float, ...]) -> HeightNoise:
    best: tuple[float, HeightNoise] | None = None
    for reach_m in reaches_m:
        noise_column = _noise_spread(lags_m, reach_m)
        for undulation_m in _UNDULATIONS_M:
            columns = np.stack([noise_column, _road_spread(lags_m, undulation_m)], axis=1)
            solution, misfit = _not_negative(columns / spread_m2[:, None])
            # Short reaches come first and are kept unless a longer one is clearly better: too
            # long a reach smooths real hills away.
            if best is None or misfit < _CLEARLY_BETTER * best[0]:
                found = HeightNoise(
                    sd_m=float(np.clip(np.sqrt(solution[0]), *_SD_LIMITS_M)),
                    reach_m=reach_m,
                    bend_density_per_m=float(np.clip(solution[1], *_BEND_LIMITS_PER_M)),
                )
                best = (float(misfit), found)
    assert best is not None
    return best[1]


def _not_negative(columns: FloatArray) -> tuple[FloatArray, float]:
    """Two numbers, not negative, whose sum of columns comes closest to 1; and the misfit."""
    choices: list[FloatArray] = [np.zeros(2)]
    choices.append(np.asarray(np.linalg.lstsq(columns, np.ones(len(columns)), rcond=None)[0]))
    for k in range(2):
        alone = np.zeros(2)
        alone[k] = columns[:, k].sum() / max(float(columns[:, k] @ columns[:, k]), 1e-300)
        choices.append(alone)
    sound = [choice for choice in choices if np.all(choice >= 0.0)]
    misfits = [float(np.linalg.norm(columns @ choice - 1.0)) for choice in sound]
    i_best = int(np.argmin(misfits))
    return sound[i_best], misfits[i_best]


def _noise_spread(lags_m: FloatArray, reach_m: float) -> FloatArray:
    """Variance of h(s - d) - 2 h(s) + h(s + d) for noise of unit variance."""
    if reach_m == 0.0:
        return np.full_like(lags_m, 6.0)
    return 6.0 - 8.0 * np.exp(-lags_m / reach_m) + 2.0 * np.exp(-2.0 * lags_m / reach_m)


def _road_spread(lags_m: FloatArray, undulation_m: float) -> FloatArray:
    """The same for a road whose grade changes at unit density and forgets after a distance."""
    if not np.isfinite(undulation_m):
        return 2.0 / 3.0 * lags_m**3

    def rise(lag: FloatArray) -> FloatArray:
        x = lag / undulation_m
        return undulation_m**3 * (x - 1.0 + np.exp(-x))

    return 4.0 * rise(lags_m) - rise(2.0 * lags_m)

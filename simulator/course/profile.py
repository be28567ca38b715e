"""The profile of the road: smooth heights, with straight grades where the user asks for them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view

from simulator.course.course import Finding, FloatArray
from simulator.course.noise import HeightNoise
from simulator.course.settings import FixEntry
from simulator.course.smooth import UniformSpline, smooth_heights
from simulator.errors import InputError
from simulator.measures import Measures, Phrase, amount

_KNOT_STEP_M = 10.0
# A hollow (hump) narrower and deeper than this on a road read from tiles: the tile saw the valley
# (hill), the road has a bridge (tunnel, cutting).
_SUSPECT_WIDTH_M = 220.0
_SUSPECT_DEPTH_M = 10.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Profile:
    """Heights over distance along the lap.

    Attributes
    ----------
    spline : UniformSpline
    fixes : tuple of (start_m, end_m, start height, end height)
        Straight grades that replace the spline.
    noise : HeightNoise
        What the stiffness came from.
    """

    spline: UniformSpline
    fixes: tuple[tuple[float, float, float, float], ...]
    noise: HeightNoise

    def at(self, places_m: FloatArray) -> FloatArray:
        """Heights at any places of the lap."""
        heights = self.spline.at(places_m)
        for start, end, low, high in self.fixes:
            inside = (places_m >= start) & (places_m <= end)
            share = (places_m[inside] - start) / (end - start)
            heights[inside] = low + (high - low) * share
        return heights


def smooth_profile(
    *,
    places_m: FloatArray,
    heights_m: FloatArray,
    noise: HeightNoise,
    fixes: Sequence[FixEntry] = (),
    offset_m: float = 0.0,
    lap_m: float,
    is_closed: bool = False,
    is_from_tiles: bool = False,
    file: str = "",
) -> tuple[Profile, list[Finding]]:
    """Smooth raw heights as far as their noise asks.

    Parameters
    ----------
    places_m, heights_m : (n,) arrays
        Distances along the smooth line and raw heights; a loop with its ends repeated outside
        0 to `lap_m`.
    noise : HeightNoise
    fixes : sequence of FixEntry
        Straight grades, in kilometres behind `offset_m`.
    offset_m : float
        Roll-out that the distances of `fixes` do not count.
    lap_m : float
    is_closed : bool
    is_from_tiles : bool
        Look for bridges and tunnels that the tiles do not know.
    file : str
        For messages.

    Returns
    -------
    Profile
    list of Finding

    Raises
    ------
    InputError
        If a fix lies outside the lap.
    """
    stretches = [(1000.0 * fix.from_km + offset_m, 1000.0 * fix.to_km + offset_m) for fix in fixes]
    for number, (start, end) in enumerate(stretches, start=1):
        if end > lap_m:
            raise InputError(
                file=file,
                place=f"[[fix]] number {number}",
                found=f"a straight grade from {start / 1000:g} to {end / 1000:g} km",
                expected=f"places within the lap of {lap_m / 1000:.3f} km",
            )
    keep = np.ones(len(places_m), dtype=bool)
    shifts = (-lap_m, 0.0, lap_m) if is_closed else (0.0,)
    for start, end in stretches:
        for shift in shifts:
            keep &= ~((places_m > start + shift) & (places_m < end + shift))
    keep[[0, -1]] = True
    places, heights = places_m[keep], heights_m[keep]
    spacings = np.gradient(places) if len(places) > 2 else np.full(len(places), lap_m)
    spline = smooth_heights(
        places_m=places,
        heights_m=heights,
        noise_density_m3=noise.density_m3(spacings),
        bend_density_per_m=noise.bend_density_per_m,
        step_m=min(_KNOT_STEP_M, lap_m / 8.0),
    )
    ends = [spline.at(np.array(stretch)) for stretch in stretches]
    profile = Profile(
        spline=spline,
        fixes=tuple(
            (start, end, float(pair[0]), float(pair[1]))
            for (start, end), pair in zip(stretches, ends, strict=True)
        ),
        noise=noise,
    )
    findings = []
    if is_from_tiles:
        findings = suspicious_places(places, heights, noise.sd_m, offset_m=offset_m, lap_m=lap_m)
    return profile, findings


def suspicious_places(
    places_m: FloatArray,
    heights_m: FloatArray,
    sd_m: float,
    *,
    offset_m: float = 0.0,
    lap_m: float = np.inf,
) -> list[Finding]:
    """Narrow deep hollows and humps: bridges, tunnels or cuttings that tiles do not show.

    Parameters
    ----------
    places_m, heights_m : (n,) arrays
        Raw heights along the road.
    sd_m : float
        Noise of the heights; hollows within it are not told.
    offset_m, lap_m : float
        Only places between `offset_m` and `lap_m` are told, counted from `offset_m`.

    Returns
    -------
    list of Finding
    """
    if places_m[-1] - places_m[0] < 3.0 * _SUSPECT_WIDTH_M:
        return []
    grid = np.arange(places_m[0], places_m[-1], 10.0)
    heights = np.interp(grid, places_m, heights_m)
    width = round(_SUSPECT_WIDTH_M / 10.0)
    depth_needed = max(_SUSPECT_DEPTH_M, 4.0 * sd_m)
    findings = []
    for word, guess, depth in (
        ("fall", "a bridge", closed(heights, width) - heights),
        ("rise", "a tunnel or cutting", heights + closed(-heights, width)),
    ):
        is_deep = depth > 0.5 * depth_needed
        edges = np.flatnonzero(np.diff(np.concatenate(([0], is_deep.astype(np.int8), [0]))))
        for a, b in zip(edges[::2], edges[1::2], strict=True):
            deepest = float(depth[a:b].max())
            start, end = float(grid[a]) - 30.0 - offset_m, float(grid[b - 1]) + 30.0 - offset_m
            if deepest < depth_needed or start < 0.0 or end > lap_m - offset_m:
                continue
            text = Phrase(
                f"tile heights {word} by {{depth}} and come back within {{width}}: {guess}? If so, "
                f"add [[fix]] from_km = {start / 1000:.2f}, to_km = {end / 1000:.2f}",
                depth=amount(Measures.height, deepest),
                width=amount(Measures.height, end - start),
            )
            findings.append(Finding(level="doubt", text=text, distance_m=start))
    return sorted(findings, key=lambda finding: finding.distance_m or 0.0)


def closed(values: FloatArray, width: int) -> FloatArray:
    """Values with hollows narrower than a window filled (grey-scale closing).

    Parameters
    ----------
    values : (n,) array
        Evenly spaced.
    width : int
        Window in values, at most n; beyond the ends they are mirrored.

    Returns
    -------
    (n,) array
        The lowest of the highest values around; nowhere below `values`.
    """
    # By hand: scipy.ndimage would add a tenth of a second to the start of every command.
    ahead, behind = width // 2, width - 1 - width // 2

    def around(of: FloatArray, before: int, after: int) -> FloatArray:
        return sliding_window_view(np.pad(of, (before, after), mode="symmetric"), width)

    highest = around(values, ahead, behind).max(axis=1)
    return np.asarray(around(highest, behind, ahead).min(axis=1))

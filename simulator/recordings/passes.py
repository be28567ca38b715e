"""Passes through all gates of a test, found in a long recording, with what is odd about each."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from simulator.measures import Measures, Phrase, amount
from simulator.recordings.gates import Crossing, GateLine, find_crossings
from simulator.recordings.recording import FloatArray, Recording
from simulator.recordings.sphere import plane_m
from simulator.units import duration

STANDING_MPS = 0.7
"""Below this the rider stands or walks."""

STRAY_M = 40.0
"""Further than this from the road, the run went another way."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Pass:
    """One way through the gates in order.

    ``times_s`` are the moments at each gate since the first sample, ``speeds_mps`` the speeds
    there. ``mean_power_w`` is the mean over time, NaN without power. ``doubts`` says in words
    what may be wrong with it; a pass is never dropped for that here.
    """

    number: int
    times_s: tuple[float, ...]
    speeds_mps: tuple[float, ...]
    mean_power_w: float
    doubts: tuple[str, ...]

    @property
    def time_s(self) -> float:
        """From the first gate to the last."""
        return self.times_s[-1] - self.times_s[0]


def find_passes(
    recording: Recording,
    gates: Sequence[GateLine],
    *,
    road_lats_deg: FloatArray | None = None,
    road_lons_deg: FloatArray | None = None,
) -> tuple[Pass, ...]:
    """Every pass through the gates in order.

    Parameters
    ----------
    recording : Recording
        With positions.
    gates : sequence of GateLine
        Two or more, in the order ridden.
    road_lats_deg, road_lons_deg : (n,) arrays, optional
        The road between them, to tell a run that went another way.

    Returns
    -------
    tuple of Pass
        In order. A pass starts at the last crossing of the first gate before the next one: who
        turns back and starts again has started again.
    """
    moments = [find_crossings(recording, gate) for gate in gates]
    found: list[Pass] = []
    for start in moments[0]:
        chain = [start]
        for crossings in moments[1:]:
            later = [c for c in crossings if c.time_s > chain[-1].time_s]
            if not later:
                break
            chain.append(later[0])
        if len(chain) < len(gates):
            continue
        started_again = any(start.time_s < c.time_s < chain[-1].time_s for c in moments[0])
        if started_again:
            continue
        found.append(_pass(recording, len(found) + 1, chain, road_lats_deg, road_lons_deg))
    return tuple(found)


def _pass(
    recording: Recording,
    number: int,
    chain: Sequence[Crossing],
    road_lats_deg: FloatArray | None,
    road_lons_deg: FloatArray | None,
) -> Pass:
    start_s, end_s = chain[0].time_s, chain[-1].time_s
    return Pass(
        number=number,
        times_s=tuple(c.time_s for c in chain),
        speeds_mps=tuple(c.speed_mps for c in chain),
        mean_power_w=mean_power_w(recording, start_s, end_s),
        doubts=tuple(_doubts(recording, start_s, end_s, road_lats_deg, road_lons_deg)),
    )


def mean_power_w(recording: Recording, start_s: float, end_s: float) -> float:
    """Mean power over a span of time, each sample standing for the time up to the next one."""
    times, powers = recording.times_s, recording.powers_w
    ends = np.append(times[1:], times[-1] + 1.0)
    weights = np.clip(np.minimum(ends, end_s) - np.maximum(times, start_s), 0.0, None)
    is_used = (weights > 0.0) & np.isfinite(powers)
    total_s = weights[is_used].sum()
    return float((weights[is_used] * powers[is_used]).sum() / total_s) if total_s else float("nan")


def _doubts(
    recording: Recording,
    start_s: float,
    end_s: float,
    road_lats_deg: FloatArray | None,
    road_lons_deg: FloatArray | None,
) -> list[str]:
    inside = (recording.times_s >= start_s) & (recording.times_s <= end_s)
    doubts = []
    standing = inside & (recording.speeds_mps < STANDING_MPS)
    if standing.any():
        at_s = float(recording.times_s[np.flatnonzero(standing)[0]] - start_s)
        doubts.append(f"the rider stopped, {duration(at_s)} after the first gate")
    for repair in recording.repairs:
        if repair.kind in ("pause", "dropout") and repair.start_s is not None:
            end = repair.end_s if repair.end_s is not None else repair.start_s
            if repair.start_s < end_s and end > start_s:
                doubts.append(repair.text)
    powers = recording.powers_w[inside]
    if recording.has_power and len(powers) and np.isfinite(powers).mean() < 0.95:
        missing = 1.0 - float(np.isfinite(powers).mean())
        doubts.append(f"power is missing for {100.0 * missing:.0f} % of it")
    if road_lats_deg is not None and road_lons_deg is not None and inside.any():
        off_m = float(np.nanmax(_off_road_m(recording, inside, road_lats_deg, road_lons_deg)))
        if off_m > STRAY_M:
            off = amount(Measures.height, off_m)
            doubts.append(Phrase("the run strays {off} from the road of the test", off=off))
    return doubts


def _off_road_m(
    recording: Recording,
    inside: np.ndarray,
    road_lats_deg: FloatArray,
    road_lons_deg: FloatArray,
) -> FloatArray:
    """Distance of each position inside a pass to the nearest point of the road."""
    origin = {"lat0_deg": float(road_lats_deg[0]), "lon0_deg": float(road_lons_deg[0])}
    road_e, road_n = plane_m(road_lats_deg, road_lons_deg, **origin)
    easts, norths = plane_m(recording.lats_deg[inside], recording.lons_deg[inside], **origin)
    nearest = np.full(len(easts), np.inf)
    for i in range(0, len(road_e), 2000):
        d_e = easts[:, None] - road_e[None, i : i + 2000]
        d_n = norths[:, None] - road_n[None, i : i + 2000]
        nearest = np.minimum(nearest, np.hypot(d_e, d_n).min(axis=1))
    return np.where(np.isfinite(easts), nearest, np.nan)

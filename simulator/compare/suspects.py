"""What to doubt where a recorded ride and the predicted one part: how large each doubt must be."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from simulator.compare.gap import FloatArray, Gap
from simulator.compare.where import StretchGap
from simulator.pacing import Demand
from simulator.ride import simulate_many

USUAL_WIND_MPS = 1.5
USUAL_CDA_SHARE = 0.04
USUAL_CRR_SHARE = 0.10
USUAL_MASS_KG = 1.0
USUAL_POWER_SHARE = 0.02
"""One standard deviation where the files state none: common practice, no source. The wind is that
of a forecast at 10 m."""

N_SIZES = 30
N_WINDS = 14
N_DIRECTIONS = 16
MOST_WIND_MPS = 14.0
LEAST_PIECES, MOST_PIECES, PIECE_M = 8, 40, 1000.0

PLACE_NOISE_S = 0.7
"""Time that the noise of a recording's places brings to a piece: some 5 m at 7 m/s."""

LEAST_SHIFT_S = 1.0
"""A difference below this needs no explanation."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Suspect:
    """One input, and how far it would have to be off to explain the whole difference.

    Attributes
    ----------
    kind : str
        "wind", "air", "rolling", "mass", "power", "braking" or "stops".
    nominal, needed : float or None
        Value in the files and value that explains the difference: wind in m/s (with
        ``needed_from_deg``), CdA in m², Crr, kg of rider and bike, and for the power meter the
        true power over the shown one. None where no value within reason does, and for braking and
        stops.
    doubt : float or None
        Standard uncertainty that the files state, or a usual one where they state none.
    is_usual : bool
        Whether the doubt is the usual one.
    doubt_s : float
        What one doubt is worth on this ride, by the local slope, in s; 0 for braking and stops.
    times_doubt : float or None
        Size needed over the doubt.
    fit : float
        Share of the differences along the course that it explains, at most 1; below 0 where it
        makes them worse.
    here_s : float
        For braking and stops the difference that arises there; for the others all of it.
    n_places : int
        Of braking and stops.
    n_free : int
        Figures chosen to explain the difference: two for a wind with its direction.
    score : float
        -2 ln likelihood (bell curve of the doubt, unknown scatter along the course) above the
        best suspect's: 0 for the likeliest.
    """

    kind: str
    nominal: float | None = None
    needed: float | None = None
    needed_from_deg: float | None = None
    doubt: float | None = None
    is_usual: bool = False
    doubt_s: float = 0.0
    times_doubt: float | None = None
    fit: float = 0.0
    here_s: float = 0.0
    n_places: int = 0
    n_free: int = 1
    score: float = math.inf


def suspects_of(
    gap: Gap,
    demand: Demand,
    *,
    from_m: float,
    to_m: float,
    stops_m: tuple[float, ...],
    braking: tuple[StretchGap, ...],
) -> tuple[tuple[Suspect, ...], float]:
    """Rank what could explain the difference between a recorded and a predicted ride.

    Parameters
    ----------
    gap : Gap
        ``first`` predicted, ``other`` recorded.
    demand : Demand
        The power that both were ridden with.
    from_m, to_m : float
        What the recording covers.
    stops_m, braking : tuples
        Where the recording stops, and where it brakes.

    Returns
    -------
    tuple
        Suspects, the likeliest first, and what the doubts of all inputs would bring together (one
        standard deviation, in s).

    Notes
    -----
    Each input alone is changed until the predicted ride takes as long as the recorded one: the
    ride itself is asked, not its slope, so that the size is exact for large differences too. The
    order is by how likely a size is: a bell curve of the stated (or usual) doubt, times how well
    the change puts the differences along the course where they are, whose scatter is not known.
    """
    n = int(np.clip((to_m - from_m) / PIECE_M, LEAST_PIECES, MOST_PIECES))
    table = _Table(gap, demand, np.linspace(from_m, to_m, n + 1))
    found = [*table.scalars(), table.wind()]
    at_stops = [(place_m - 150.0, place_m + 250.0) for place_m in stops_m]
    at_brakes = [(part.start_m - 10.0, part.end_m + 150.0) for part in braking]
    for kind, spans in (("stops", at_stops), ("braking", at_brakes)):
        local = table.local(kind, spans)
        # Told only where it explains something of the whole.
        if local.here_s * math.copysign(1.0, table.wanted_s) >= LEAST_SHIFT_S:
            found.append(local)
    best = min(suspect.score for suspect in found)
    ranked = sorted(
        (_rescored(suspect, best) for suspect in found), key=lambda suspect: suspect.score
    )
    usual_s = math.sqrt(sum(suspect.doubt_s**2 for suspect in found))
    return tuple(ranked), usual_s


def _rescored(suspect: Suspect, best: float) -> Suspect:
    return replace(suspect, score=suspect.score - best if math.isfinite(best) else math.inf)


_Input = tuple[str, float, float, bool, float, float]


class _Table:
    """Times at the bounds of the pieces for changed inputs, and what the recording says there."""

    def __init__(self, gap: Gap, demand: Demand, bounds_m: FloatArray) -> None:
        self.gap, self.demand, self.bounds_m = gap, demand, bounds_m
        course = gap.first.course
        self.nodes_m = course.node_distances_m
        after = np.clip(np.searchsorted(self.nodes_m, bounds_m), 1, course.n_segments)
        self.marks = np.unique(np.concatenate([after - 1, after])).astype(np.int64)
        self.pieces_s = np.diff(np.interp(bounds_m, self.nodes_m, gap.node_gaps_s))
        self.wanted_s = float(self.pieces_s.sum())

    def shifts_s(self, draws: dict[str, FloatArray]) -> FloatArray:
        """Change of the time on each piece, one row for each draw; NaN where a ride stops."""
        ride = self.gap.first
        times_s = simulate_many(
            course=ride.course,
            setups=[ride.setup],
            demand=self.demand,
            draws=[draws],
            marks=self.marks,
            start_speed_mps=float(ride.node_speeds_mps[0]),
        )[0]
        now_s = np.interp(self.bounds_m, self.nodes_m, ride.node_times_s)
        at_marks_m = self.nodes_m[self.marks]
        rows = [np.interp(self.bounds_m, at_marks_m, row) - now_s for row in times_s]
        with np.errstate(invalid="ignore"):  # two bounds that a ride never reaches
            shifts = np.diff(np.array(rows), axis=1)
        return np.where(np.isfinite(shifts), shifts, np.nan)

    def scalars(self) -> list[Suspect]:
        """Drag, rolling, mass and the scale of the power meter, each on its own."""
        inputs = {kind: self._input(kind) for kind in ("air", "rolling", "mass", "power")}
        # A fan of sizes each, and a small step to both sides for the local slope.
        fans = {
            kind: np.append(
                np.linspace(low, high, N_SIZES), nominal + np.array([-0.05, 0.05]) * doubt
            )
            for kind, (_, nominal, doubt, _, low, high) in inputs.items()
        }
        coarse = self._each(inputs, fans)
        fine = {
            kind: np.linspace(*_around(fans[kind][:-2], rows.sum(axis=1)[:-2] - self.wanted_s), 8)
            for kind, rows in coarse.items()
        }
        exact = self._each(inputs, fine)
        found = []
        for kind, (_, nominal, doubt, is_usual, _, _) in inputs.items():
            scale, offset = self._scale(kind), self._offset(kind)
            step_s = float(np.diff(coarse[kind].sum(axis=1)[-2:])[0])
            suspect = Suspect(
                kind=kind,
                nominal=nominal * scale + offset,
                doubt=doubt * scale,
                is_usual=is_usual,
                doubt_s=abs(step_s) / 0.1,
                here_s=self.wanted_s,
            )
            at = _crossing(exact[kind].sum(axis=1) - self.wanted_s)
            if at is not None:
                i, share = at
                value = float(fine[kind][i] + share * (fine[kind][i + 1] - fine[kind][i]))
                rows = exact[kind]
                suspect = self._scored(
                    suspect,
                    (1.0 - share) * rows[i] + share * rows[i + 1],
                    abs(value - nominal) / doubt,
                    needed=value * scale + offset,
                )
            found.append(suspect)
        return found

    def _each(
        self, inputs: Mapping[str, _Input], fans: Mapping[str, FloatArray]
    ) -> dict[str, FloatArray]:
        """Rides of all fans in one go; the other inputs of each ride are nominal."""
        n_rides = sum(len(fan) for fan in fans.values())
        draws = {name: np.full(n_rides, nominal) for name, nominal, *_ in inputs.values()}
        at = 0
        spans = {}
        for kind, fan in fans.items():
            spans[kind] = slice(at, at + len(fan))
            draws[inputs[kind][0]][spans[kind]] = fan
            at += len(fan)
        shifts_s = self.shifts_s(draws)
        return {kind: shifts_s[span] for kind, span in spans.items()}

    def _input(self, kind: str) -> _Input:
        """Name, nominal value, doubt, whether it is the usual one, and the sizes to try."""
        setup = self.gap.first.setup
        build, rider = setup.build, setup.rider
        if kind == "air":
            value, stated, usual = build.cda_m2.value, build.cda_m2.sd, USUAL_CDA_SHARE
            doubt = stated or usual * value
            return "build.cda_m2", value, doubt, not stated, 0.4 * value, 2.0 * value
        if kind == "rolling":
            value, stated, usual = build.crr.value, build.crr.sd, USUAL_CRR_SHARE
            doubt = stated or usual * value
            return "build.crr", value, doubt, not stated, 0.1 * value, 4.0 * value
        if kind == "mass":
            value = rider.mass_kg.value
            stated = math.hypot(rider.mass_kg.sd, rider.kit_kg.sd)
            stated = math.hypot(stated, rider.bottles_kg.sd, build.mass_kg.sd)
            low, high = value - 30.0, value + 40.0
            return "rider.mass_kg", value, stated or USUAL_MASS_KG, not stated, low, high
        value, stated = rider.power_w.value, rider.power_w.sd
        doubt = stated or USUAL_POWER_SHARE * value
        return "rider.power_w", value, doubt, not stated, 0.6 * value, 1.6 * value

    def _scale(self, kind: str) -> float:
        """The rider's power scales the recorded one: told as true over shown."""
        return 1.0 / self.gap.first.setup.rider.power_w.value if kind == "power" else 1.0

    def _offset(self, kind: str) -> float:
        """Mass is told for all that rolls; the rider's is what is changed."""
        setup = self.gap.first.setup
        if kind != "mass":
            return 0.0
        return setup.rider.kit_kg.value + setup.rider.bottles_kg.value + setup.build.mass_kg.value

    def wind(self) -> Suspect:
        """A wind added to the forecast one, from the direction that explains most."""
        weather = self.gap.first.setup.weather
        speed, from_deg = weather.wind_mps.value, weather.wind_from_deg.value
        stated = math.hypot(
            weather.wind_mps.sd, speed * math.radians(min(weather.wind_from_deg.sd, 60.0))
        )
        doubt = stated or USUAL_WIND_MPS
        now = _vector(speed, from_deg)
        sizes = np.linspace(0.0, MOST_WIND_MPS, N_WINDS)
        ways_deg = np.arange(N_DIRECTIONS) * 360.0 / N_DIRECTIONS
        grid = [now + _vector(size, way) for way in ways_deg for size in sizes]
        shifts_s = self.shifts_s(_winds(grid)).reshape(N_DIRECTIONS, N_WINDS, -1)
        totals_s = shifts_s.sum(axis=2)
        step_mps = float(sizes[1])
        slopes_s = (totals_s[:, 1] - totals_s[:, 0]) / step_mps
        found: list[Suspect] = []
        bare = Suspect(
            kind="wind",
            nominal=speed,
            doubt=doubt,
            is_usual=not stated,
            doubt_s=float(np.sqrt(np.mean(slopes_s**2)) * math.sqrt(2.0) * doubt),
            here_s=self.wanted_s,
        )
        for i, way in enumerate(ways_deg):
            at = _crossing(totals_s[i] - self.wanted_s)
            if at is None:
                continue
            j, share = at
            size = float(sizes[j]) + share * step_mps
            east, north = now + _vector(size, float(way))
            found.append(
                self._scored(
                    replace(bare, n_free=2),
                    (1.0 - share) * shifts_s[i, j] + share * shifts_s[i, j + 1],
                    size / doubt,
                    needed=float(np.hypot(east, north)),
                    needed_from_deg=float(np.degrees(np.arctan2(east, north)) % 360.0),
                )
            )
        return min(found, key=lambda suspect: suspect.score, default=bare)

    def local(self, kind: str, spans: list[tuple[float, float]]) -> Suspect:
        """What arises at some places of the road only."""
        fine_m = np.linspace(self.bounds_m[0], self.bounds_m[-1], 4001)
        inside = np.zeros(len(fine_m) - 1, dtype=bool)
        middle_m = 0.5 * (fine_m[1:] + fine_m[:-1])
        for start_m, end_m in spans:
            inside |= (middle_m > start_m) & (middle_m < end_m)
        steps_s = np.diff(np.interp(fine_m, self.nodes_m, self.gap.node_gaps_s)) * inside
        cumulative = np.append(0.0, np.cumsum(steps_s))
        pieces_s = np.diff(np.interp(self.bounds_m, fine_m, cumulative))
        here_s = float(steps_s.sum())
        suspect = Suspect(kind=kind, here_s=here_s, n_places=len(spans))
        return self._scored(suspect, pieces_s, 1.0, is_size=False)

    def _scored(
        self,
        suspect: Suspect,
        pieces_s: FloatArray,
        times_doubt: float,
        *,
        is_size: bool = True,
        **values: Any,
    ) -> Suspect:
        rest = float(np.square(self.pieces_s - pieces_s).sum())
        whole = float(np.square(self.pieces_s).sum())
        n = len(self.pieces_s)
        # Pieces whose scatter is not known: its likeliest size is the one left over.
        # Each figure chosen after the fact costs ln n [Schwarz1978].
        score = times_doubt**2 + n * math.log(rest / n + PLACE_NOISE_S**2)
        score += suspect.n_free * math.log(n)
        return replace(
            suspect,
            times_doubt=times_doubt if is_size else None,
            fit=1.0 - rest / whole if whole > 0.0 else 0.0,
            score=score,
            **values,
        )


def _crossing(excess: FloatArray) -> tuple[int, float] | None:
    """Where an excess first passes zero: index before it, and share of the way to the next."""
    good = np.isfinite(excess)
    turns = np.flatnonzero(good[1:] & good[:-1] & (excess[:-1] * excess[1:] <= 0.0))
    if len(turns) == 0:
        return None
    i = int(turns[0])
    step = excess[i + 1] - excess[i]
    return i, float(-excess[i] / step) if step != 0.0 else 0.0


def _around(sizes: FloatArray, excess: FloatArray) -> tuple[float, float]:
    """The sizes on both sides of where an excess passes zero; all of them if it does nowhere."""
    at = _crossing(excess)
    if at is None:
        return float(sizes[0]), float(sizes[-1])
    return float(sizes[at[0]]), float(sizes[at[0] + 1])


def _vector(speed_mps: float, from_deg: float) -> FloatArray:
    angle = math.radians(from_deg)
    return np.array([speed_mps * math.sin(angle), speed_mps * math.cos(angle)])


def _winds(vectors: list[FloatArray]) -> dict[str, FloatArray]:
    east, north = np.array(vectors).T
    return {
        "weather.wind_mps": np.hypot(east, north),
        "weather.wind_from_deg": np.degrees(np.arctan2(east, north)),
    }

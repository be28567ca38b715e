"""How sure a gain is: the same draws of all that is uncertain for every set, parts included."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields

import numpy as np

from simulator.ride import YAW_NODES_DEG, draw_values, uncertain_inputs
from simulator.setup import (
    CHANGED_FIELDS,
    FIELD_LIMITS,
    Part,
    Uncertain,
    together,
    with_gears,
    with_gusts,
)
from simulator.spend.optimum import FloatArray
from simulator.spend.rerides import (
    FigureTables,
    Race,
    RideJob,
    Runner,
    area_changes_m2,
    least_areas_m2,
    mean_s,
)

LOW, HIGH = 0.05, 0.95
"""The interval holds the middle 90 % of the draws."""

LEAST_S = 0.1
"""No results sheet of a club race reads finer than a tenth: common practice, no source."""

_RIDER, _WEATHER, _BUILD, _PART = range(4)
_AREA = len(CHANGED_FIELDS)


@dataclass(frozen=True, slots=True, kw_only=True)
class GainDoubt:
    """The spread of a gain over paired draws, in s.

    ``low_s`` and ``high_s`` hold the middle 90 %; ``chance`` is the share of draws in which the
    gain is above zero. Draws in which a ride stops on the way are left out and counted.
    """

    mean_s: float
    low_s: float
    high_s: float
    chance: float
    n_draws: int
    n_stopped: int

    @property
    def is_told_apart(self) -> bool:
        """Whether the interval leaves out zero, by more than a clock could miss.

        Nor may the gain be less than half the interval, which is what reports show behind ±: draws
        that lean to one side can leave out zero and still say 13 s ± 15 s.
        """
        half_s = 0.5 * (self.high_s - self.low_s)
        return self.low_s > 0.0 and self.mean_s > half_s and self.mean_s >= LEAST_S


class DrawnRides:
    """Times of sets through paired draws; each set is ridden once and then remembered.

    What is uncertain about rider, weather, build and each part has its own stream of random
    numbers, so the draws of a part are the same in all sets that hold it, and adding a part to
    the catalogue's end leaves the draws of the others alone. Gusts make the wind of each race less
    sure, as `setup.with_gusts` says.
    """

    def __init__(
        self,
        tables: FigureTables,
        races: tuple[Race, ...],
        runner: Runner,
        *,
        n_draws: int,
        seed: int,
    ) -> None:
        self.tables = tables
        self.races = races
        self.runner = runner
        self.n_draws = n_draws
        self.seed = seed
        self._known: dict[tuple[int, ...], FloatArray] = {}
        self._shared = [self._of_race(i_race, race) for i_race, race in enumerate(races)]

    def ride(self, sets: Sequence[tuple[int, ...]]) -> None:
        """Ride some sets, all at once, so that they need not be waited for one by one."""
        new = [each for each in dict.fromkeys(sets) if each not in self._known]
        jobs = [job for each in new for job in self._jobs(each)]
        ridden = self.runner.times(jobs)
        for each in new:
            times_s = np.stack([next(ridden) for _ in self.races])
            self._known[each] = mean_s(self.races, times_s)

    def gain(self, slower: tuple[int, ...], faster: tuple[int, ...]) -> GainDoubt | None:
        """What a set gains on another one.

        Returns
        -------
        GainDoubt or None
            None without draws, or where fewer than two of them finish.
        """
        if self.n_draws < 2:
            return None
        self.ride([slower, faster])
        slower_s, faster_s = self._known[slower], self._known[faster]
        finished = np.isfinite(slower_s) & np.isfinite(faster_s)
        gains_s = slower_s[finished] - faster_s[finished]
        if len(gains_s) < 2:
            return None
        low_s, high_s = np.quantile(gains_s, [LOW, HIGH])
        return GainDoubt(
            mean_s=float(gains_s.mean()),
            low_s=float(low_s),
            high_s=float(high_s),
            chance=float((gains_s > 0.0).mean()),
            n_draws=self.n_draws,
            n_stopped=int((~finished).sum()),
        )

    def _scores(self, *key: int) -> FloatArray:
        return np.random.default_rng([self.seed, *key]).standard_normal(self.n_draws)

    def _of_race(self, i_race: int, race: Race) -> dict[str, FloatArray]:
        weather = with_gusts(race.weather, distance_m=race.course.distance_m)
        values = {}
        for kind, prefix, thing in (
            ((_RIDER,), "rider", race.rider),
            ((_WEATHER, i_race), "weather", weather),
        ):
            numbers = {field.name: i for i, field in enumerate(fields(thing))}
            for name, quantity in uncertain_inputs(prefix, thing):
                number = numbers[name.removeprefix(f"{prefix}.")]
                values[name] = draw_values(name, quantity, self._scores(*kind, number))
        return values

    def _jobs(self, choices: tuple[int, ...]) -> list[RideJob]:
        parts = self.tables.menu.parts_of(choices)
        build = with_gears(self.tables.build, parts)
        values = self._figures(parts)
        return [
            RideJob(i_race=i_race, build=build, values={**shared, **values})
            for i_race, shared in enumerate(self._shared)
        ]

    def _figures(self, parts: Sequence[Part]) -> dict[str, FloatArray]:
        build = self.tables.build
        figures: dict[str, FloatArray] = {}
        for number, field in enumerate(CHANGED_FIELDS):
            owners = [part for part in parts if field in dict(part.owns)]
            own: Uncertain = getattr(build, field)
            key: tuple[int, ...] = (_BUILD, number)
            if owners:
                own, key = dict(owners[0].owns)[field], (_PART, self._number(owners[0]), number)
            changes = [
                self._change(dict(part.changes)[field], part, number)
                for part in parts
                if field in dict(part.changes)
            ]
            drawn = draw_values(f"build.{field}", own, self._scores(*key)) if own.sd else own.value
            whole = np.broadcast_to(together(drawn, changes), self.n_draws)
            figures[f"build.{field}"] = np.clip(whole, *FIELD_LIMITS[field])
        cda_m2 = np.full(self.n_draws, build.cda_m2.value)
        if build.cda_m2.sd:
            cda_m2 = draw_values("build.cda_m2", build.cda_m2, self._scores(_BUILD, _AREA))
        shifts_m2 = together(
            np.zeros(self.n_draws),
            (self._change(Uncertain(0.0, part.cda_change_sd_m2), part, _AREA) for part in parts),
        )
        low_m2, high_m2 = FIELD_LIMITS["cda_m2"]
        areas_m2 = together(np.zeros(len(YAW_NODES_DEG)), (area_changes_m2(part) for part in parts))
        shifts_m2 = np.clip(shifts_m2, low_m2 - least_areas_m2(build, cda_m2, areas_m2), high_m2)
        figures["build.cda_m2"] = cda_m2
        figures["build.area_changes_m2"] = areas_m2 + shifts_m2[:, None]
        return figures

    def _change(self, quantity: Uncertain, part: Part, number: int) -> FloatArray | float:
        if not quantity.sd:
            return quantity.value
        scores = self._scores(_PART, self._number(part), _AREA + 1 + number)
        return quantity.value + quantity.sd * scores

    def _number(self, part: Part) -> int:
        return self.tables.menu.catalogue.parts.index(part)

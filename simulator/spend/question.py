"""The whole question at once: ride every set, keep the best, say how sure that is."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np

from simulator.errors import CannotFinish
from simulator.ride import simulate
from simulator.setup import CENTS, Build, Catalogue, Part, RideSetup, misfits, part_cents
from simulator.spend.chances import LEAST_S, DrawnRides, GainDoubt
from simulator.spend.optimum import FloatArray, Ranked
from simulator.spend.partsets import make_menu, survey_sets
from simulator.spend.rerides import (
    FigureTables,
    Race,
    Runner,
    ThisMachine,
    make_tables,
    mean_s,
    race_times_s,
)
from simulator.spend.spending import (
    BudgetAnswer,
    PartLoss,
    PartSet,
    RaceTimes,
    Rival,
    SinglePart,
    Spending,
    SureGain,
)
from simulator.spend.sweep import CHUNK, find_leaders

Choices = tuple[int, ...]
Progress = Callable[[str, int, int], None]
"""Called with what is being done, how much of it is done, and how much there is."""

MOST_SETS = 50_000_000
"""More than these are hours of riding even on short courses, not a question for tonight."""

MOST_SINGLES_DRAWN = 60
"""Parts, the best ones, whose gain alone is told with its doubt; reports say so of the others."""

FEW = 6
"""Parts drawn at once: some at a time for a cluster's sake, few enough for a bar that moves."""

MOST_STEPS_DOWN = 10
"""Cheaper sets that are held against the best one."""


def plan_spending(
    *,
    build: Build,
    catalogue: Catalogue,
    races: Sequence[Race],
    budgets: Sequence[float],
    target: Build | None = None,
    n_draws: int = 1000,
    seed: int = 1,
    runner: Runner | None = None,
    chunk: int = CHUNK,
    progress: Progress | None = None,
) -> Spending:
    """Find the best set of parts for each budget by riding every set there is.

    Parameters
    ----------
    build : Build
        As it stands now; the catalogue's changes are against it.
    catalogue : Catalogue
        What can be bought or done.
    races : sequence of Race
        Where it is to be faster.
    budgets : sequence of float
        In the currency of the catalogue. What costs nothing is answered for as well, as a
        budget of 0, where the catalogue has any such thing.
    target : Build, optional
        The better build; the share of the gap to it that a set closes is told.
    n_draws, seed : int
        Paired draws for how sure the gains are; 0 leaves that out.
    runner : Runner, optional
        Who rides; this machine if not given.
    chunk : int
        Sets that ride together; it changes memory and speed, not the answer.
    progress : callable, optional
        Told what is being done.

    Returns
    -------
    Spending
        See there.

    Raises
    ------
    CannotFinish
        If the build or the target comes to a halt on a race, or if there are too many sets.
    InputError
        If parts together bring a figure to where it means nothing.
    """
    races = tuple(races)
    return _Question(
        build=build,
        target=target,
        catalogue=catalogue,
        races=races,
        runner=runner or ThisMachine(races),
        n_draws=n_draws,
        seed=seed,
        progress=progress or (lambda what, done, of: None),
    ).answer(budgets, chunk)


class _Question:
    """What the steps of the answer share."""

    def __init__(
        self,
        *,
        build: Build,
        target: Build | None,
        catalogue: Catalogue,
        races: tuple[Race, ...],
        runner: Runner,
        n_draws: int,
        seed: int,
        progress: Progress,
    ) -> None:
        self.build, self.target, self.catalogue = build, target, catalogue
        self.races, self.runner, self.progress = races, runner, progress
        self.n_draws, self.seed = n_draws, seed
        self.menu = make_menu(catalogue)
        self.tables: FigureTables = make_tables(build, self.menu)
        self.drawn = DrawnRides(self.tables, races, runner, n_draws=n_draws, seed=seed)
        self.nothing: Choices = (0,) * self.menu.n_slots
        self.base_s = self._finishing_times_s(build)
        self.target_s = None if target is None else self._finishing_times_s(target)
        self._known: dict[Choices, FloatArray] = {}

    def answer(self, budgets: Sequence[float], chunk: int) -> Spending:
        cents = sorted({round(budget * CENTS) for budget in budgets})
        if any(options.min() <= 0 for options in (c[1:] for c in self.menu.cents) if len(options)):
            cents = sorted({0, *cents})
        survey = survey_sets(self.menu, cents[-1], most=MOST_SETS)
        n_sets = survey.n_sets
        if n_sets > MOST_SETS:
            raise CannotFinish(self._too_many(cents[-1]))
        done = 0

        def tell(n_more: int) -> None:
            nonlocal done
            done += n_more
            self.progress("Riding every set", done, n_sets)

        leaders = find_leaders(
            self.tables, self.races, self.runner, cents, chunk=chunk, progress=tell
        )
        frontier = _rows(leaders.frontier)
        self._ride(frontier)
        n_drawn = min(len(self.catalogue.parts), MOST_SINGLES_DRAWN)
        n_steps = n_drawn + len(cents)
        singles = self._singles(lambda n_done: self.progress("Drawing", n_done, n_steps))
        answers = []
        for i, (budget, ranked) in enumerate(zip(cents, leaders.by_budget, strict=True)):
            self.progress("Drawing", n_drawn + i, n_steps)
            answers.append(self._budget(budget, ranked, frontier, singles))
        self.progress("Drawing", n_steps, n_steps)
        weights = np.array([race.weight for race in self.races])
        weights = weights / weights.sum()
        return Spending(
            build=self.build,
            target=self.target,
            catalogue=self.catalogue,
            plan=self.races,
            races=tuple(
                RaceTimes(
                    name=race.name,
                    weight=float(weights[i]),
                    base_s=float(self.base_s[i]),
                    target_s=None if self.target_s is None else float(self.target_s[i]),
                )
                for i, race in enumerate(self.races)
            ),
            gap_s=self._gap_s(),
            n_sets=n_sets,
            n_raw=self.menu.n_raw,
            unused=tuple(
                part for part in survey.unused if part_cents(self.catalogue, part) <= cents[-1]
            ),
            budgets=tuple(answers),
            singles=singles,
            frontier=tuple(self._part_set(each) for each in frontier),
            n_draws=self.n_draws,
            seed=self.seed,
        )

    def _too_many(self, most_cents: int) -> str:
        """What is too much, and how to cut it down."""
        slots = sorted(
            zip(self.catalogue.slots, self.menu.parts, strict=True), key=lambda each: -len(each[1])
        )
        fullest = ", ".join(f"{slot.name} ({len(options) - 1})" for slot, options in slots[:3])
        return (
            f"More than {MOST_SETS:,} sets of parts go together and fit "
            f"{most_cents / CENTS:,.0f} {self.catalogue.currency}: too many to ride them all. Take "
            "out parts that you would not buy anyway, from the slots with the most parts first: "
            f"{fullest}. Half the parts of a slot halve the sets. Or name a smaller budget."
        )

    def _finishing_times_s(self, build: Build) -> FloatArray:
        """Times of a build over all races; complains where it does not finish."""
        return np.array(
            [
                simulate(
                    course=race.course,
                    setup=RideSetup(rider=race.rider, build=build, weather=race.weather),
                    demand=race.demand,
                ).time_s
                for race in self.races
            ]
        )

    def _ride(self, sets: Sequence[Choices]) -> None:
        new = [each for each in dict.fromkeys(sets) if each not in self._known]
        for start in range(0, len(new), CHUNK):
            some = new[start : start + CHUNK]
            choices = np.array(some, dtype=np.int16)
            times_s = race_times_s(self.tables, self.runner, choices, len(self.races))
            self._known |= {each: times_s[:, i] for i, each in enumerate(some)}

    def _times_s(self, choices: Choices) -> FloatArray:
        self._ride([choices])
        return self._known[choices]

    def _gains_s(self, choices: Choices) -> FloatArray:
        return self._times_s(self.nothing) - self._times_s(choices)

    def _gain_s(self, choices: Choices) -> float:
        return float(mean_s(self.races, self._gains_s(choices)))

    def _gap_s(self) -> float | None:
        if self.target_s is None:
            return None
        return float(mean_s(self.races, self.base_s - self.target_s))

    def _cents(self, choices: Choices) -> int:
        return int(sum(self.menu.cents[slot][option] for slot, option in enumerate(choices)))

    def _part_set(self, choices: Choices) -> PartSet:
        gain_s, gap_s = self._gain_s(choices), self._gap_s()
        return PartSet(
            parts=self.menu.parts_of(choices),
            price=self._cents(choices) / CENTS,
            gain_s=gain_s,
            race_gains_s=tuple(self._gains_s(choices).tolist()),
            share=gain_s / gap_s if gap_s is not None and gap_s > LEAST_S else None,
        )

    def _without(self, choices: Choices, part: Part) -> Choices:
        """The set with what is there now in the slots of one part."""
        parts = self.menu.parts_of(choices)
        return self.menu.choices_of(other for other in parts if other != part)

    def _fits(self, choices: Choices) -> bool:
        return not misfits(self.catalogue, self.menu.parts_of(choices))

    def _budget(
        self,
        budget_cents: int,
        ranked: Ranked,
        frontier: Sequence[Choices],
        singles: Sequence[SinglePart],
    ) -> BudgetAnswer:
        best, *others = _rows(ranked)
        without = {part.name: self._without(best, part) for part in self.menu.parts_of(best)}
        losses = sorted(
            (self._loss(best, part, without[part.name]) for part in self.menu.parts_of(best)),
            key=lambda loss: -np.inf if loss.loss_s is None else -loss.loss_s,
        )
        told = [loss for loss in losses if loss.loss_s is not None]
        paid = [loss for loss in told if part_cents(self.catalogue, loss.part) > 0]
        weighed = paid if len(paid) > 1 else told
        least = weighed[-1] if len(losses) > 1 and told else None
        buys = [
            single
            for single in singles
            if single.gain_s is not None
            and single.gain_s >= LEAST_S
            and 0 < round(single.price * CENTS) <= budget_cents
        ]
        doubt = self.drawn.gain(self.nothing, best) if best != self.nothing else None
        return BudgetAnswer(
            budget=budget_cents / CENTS,
            best=self._part_set(best),
            doubt=doubt,
            losses=tuple(losses),
            least=least,
            least_doubt=self.drawn.gain(without[least.part.name], best) if least else None,
            rival=self._rival(best, others[0]) if others else None,
            leaner=self._leaner(best, frontier),
            next_buy=self._with_doubt(buys[0]) if buys else None,
            surer=self._surer(budget_cents, best, doubt, frontier, singles),
        )

    def _with_doubt(self, single: SinglePart) -> SinglePart:
        """The same part; its doubt too where there were too many parts to draw them all."""
        if single.doubt is not None:
            return single
        choices = self.menu.choices_of([single.part])
        return replace(single, doubt=self.drawn.gain(self.nothing, choices))

    def _surer(
        self,
        budget_cents: int,
        best: Choices,
        doubt: GainDoubt | None,
        frontier: Sequence[Choices],
        singles: Sequence[SinglePart],
    ) -> SureGain | None:
        """What gains most for sure, where the best set's gain lies within its doubt."""
        if doubt is None or doubt.is_told_apart:
            return None
        sure = [s.part for s in singles if s.doubt is not None and s.doubt.is_told_apart]
        tries = [
            *frontier,
            *(self.menu.choices_of([part]) for part in sure),
            self.menu.choices_of(part for part in self.menu.parts_of(best) if part in sure),
        ]
        tries = [each for each in tries if self._fits(each) and self._cents(each) <= budget_cents]
        for each in sorted(dict.fromkeys(tries), key=lambda each: -self._gain_s(each)):
            gain = self.drawn.gain(self.nothing, each)
            if gain is not None and gain.is_told_apart:
                return SureGain(chosen=self._part_set(each), doubt=gain)
        return None

    def _loss(self, best: Choices, part: Part, without: Choices) -> PartLoss:
        if not self._fits(without):
            return PartLoss(part=part, loss_s=None)
        loss_s = self._gain_s(best) - self._gain_s(without)
        return PartLoss(part=part, loss_s=float(loss_s))

    def _rival(self, best: Choices, other: Choices) -> Rival:
        return Rival(
            chosen=self._part_set(other),
            lead_s=self._gain_s(best) - self._gain_s(other),
            doubt=self.drawn.gain(other, best),
        )

    def _leaner(self, best: Choices, frontier: Sequence[Choices]) -> Rival | None:
        """Walk down the frontier for as long as the figures cannot tell the sets apart."""
        if self.n_draws < 2:
            return None
        price = self._cents(best)
        cheaper = [each for each in frontier if self._cents(each) < price]
        found = None
        for each in reversed(cheaper[-MOST_STEPS_DOWN:]):
            rival = self._rival(best, each)
            if rival.doubt is None or rival.doubt.is_told_apart:
                break
            found = rival
        return found

    def _singles(self, tell: Callable[[int], None]) -> tuple[SinglePart, ...]:
        found: list[tuple[float, Choices | None, Part, str]] = []
        for part in self.catalogue.parts:
            reasons = misfits(self.catalogue, [part])
            if reasons:
                found.append((-np.inf, None, part, "; ".join(reasons)))
                continue
            choices = self.menu.choices_of([part])
            found.append((self._gain_s(choices), choices, part, ""))
        found.sort(key=lambda each: -each[0])
        drawn = [choices for _, choices, _, _ in found[:MOST_SINGLES_DRAWN] if choices]
        for start in range(0, len(drawn), FEW):
            tell(start)
            if self.n_draws >= 2:
                self.drawn.ride([self.nothing, *drawn[start : start + FEW]])
        return tuple(
            SinglePart(
                part=part,
                price=part_cents(self.catalogue, part) / CENTS,
                gain_s=None if choices is None else gain_s,
                doubt=self.drawn.gain(self.nothing, choices) if choices in drawn else None,
                reason=reason,
            )
            for gain_s, choices, part, reason in found
        )


def _rows(ranked: Ranked) -> list[Choices]:
    return [tuple(row) for row in ranked.choices.tolist()]

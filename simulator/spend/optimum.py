"""The best set for each budget, exactly: every set's time is looked at, the leaders are kept.

Sets rank by time, then by price, then by how few parts they have. A set that is no faster than
another and dearer, or just as dear with more parts, is never of use and never kept. Times are
compared after rounding to `DECIMALS`: what two sets differ by in the last digits of a computer's
numbers must not sell a part.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from simulator.spend.partsets import ChoiceArray, IntArray, SetBlock

FloatArray = NDArray[np.float64]

N_LEADERS = 12
"""Sets kept for each budget: the best one and those that come next."""

DECIMALS = 9
"""Times of sets are told apart to this many decimals of a second: sums of masses or areas in
another order move a time of an hour by some 1e-12 s, the lightest bolt by more than 1e-6 s."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Ranked:
    """Sets with their times.

    Attributes
    ----------
    choices : (n, n_slots) array of int
        Option in each slot.
    cents : (n,) array of int
        Price in hundredths.
    scores_s : (n,) array
        Weighted mean time over the races, in s, rounded to `DECIMALS`.
    """

    choices: ChoiceArray
    cents: IntArray
    scores_s: FloatArray

    def __len__(self) -> int:
        return len(self.cents)

    def taken(self, rows: IntArray | NDArray[np.bool_]) -> Ranked:
        """Some of the sets."""
        return Ranked(
            choices=self.choices[rows], cents=self.cents[rows], scores_s=self.scores_s[rows]
        )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Leaders:
    """What is left when every set has been looked at.

    Attributes
    ----------
    budgets_cents : tuple of int
        In hundredths.
    by_budget : tuple of Ranked
        For each budget the best set and up to `N_LEADERS` - 1 that come next.
    frontier : Ranked
        Sets than which no other is both faster and no dearer, the cheapest first.
    """

    budgets_cents: tuple[int, ...]
    by_budget: tuple[Ranked, ...]
    frontier: Ranked


def no_leaders(n_slots: int, budgets_cents: Sequence[int]) -> Leaders:
    """Where the search starts."""
    none = Ranked(
        choices=np.empty((0, n_slots), dtype=np.int16),
        cents=np.empty(0, dtype=np.int64),
        scores_s=np.empty(0),
    )
    return Leaders(
        budgets_cents=tuple(budgets_cents),
        by_budget=tuple(none for _ in budgets_cents),
        frontier=none,
    )


def with_sets(leaders: Leaders, sets: SetBlock, scores_s: FloatArray) -> Leaders:
    """The leaders after looking at some more sets.

    Parameters
    ----------
    leaders : Leaders
        So far.
    sets : SetBlock
        More sets.
    scores_s : (n,) array
        Their times in s; ``inf`` where a race cannot be finished, and such sets never lead.

    Returns
    -------
    Leaders
        The same whatever blocks the sets come in, for as long as they come in one order.
    """
    more = Ranked(choices=sets.choices, cents=sets.cents, scores_s=np.round(scores_s, DECIMALS))
    more = more.taken(np.isfinite(scores_s))
    return Leaders(
        budgets_cents=leaders.budgets_cents,
        by_budget=tuple(
            _best(_both(kept, _rivals(kept, more, budget)))
            for kept, budget in zip(leaders.by_budget, leaders.budgets_cents, strict=True)
        ),
        frontier=_undominated(_both(leaders.frontier, more)),
    )


def _rivals(kept: Ranked, more: Ranked, budget_cents: int) -> Ranked:
    is_rival = more.cents <= budget_cents
    if len(kept) == N_LEADERS:
        is_rival &= more.scores_s <= kept.scores_s[-1]
    return more.taken(is_rival)


def _both(kept: Ranked, more: Ranked) -> Ranked:
    return Ranked(
        choices=np.concatenate([kept.choices, more.choices]),
        cents=np.concatenate([kept.cents, more.cents]),
        scores_s=np.concatenate([kept.scores_s, more.scores_s]),
    )


def _n_bought(ranked: Ranked) -> IntArray:
    return np.asarray((ranked.choices > 0).sum(axis=1), dtype=np.int64)


def _best(ranked: Ranked) -> Ranked:
    n_bought = _n_bought(ranked)
    order = np.lexsort((n_bought, ranked.cents, ranked.scores_s))
    ranked, n_bought = ranked.taken(order), n_bought[order]
    # The first of those with one time is the cheapest; what is dearer or fuller is of no use.
    first = np.searchsorted(ranked.scores_s, ranked.scores_s, side="left")
    is_of_use = (ranked.cents == ranked.cents[first]) & (n_bought == n_bought[first])
    return ranked.taken(np.flatnonzero(is_of_use)[:N_LEADERS])


def _undominated(ranked: Ranked) -> Ranked:
    order = np.lexsort((_n_bought(ranked), ranked.scores_s, ranked.cents))
    ranked = ranked.taken(order)
    before_s = np.minimum.accumulate(np.concatenate([[np.inf], ranked.scores_s]))[:-1]
    return ranked.taken(ranked.scores_s < before_s)

"""The type this room is about: what a budget buys on one's races."""

from __future__ import annotations

from dataclasses import dataclass

from simulator.setup import Build, Catalogue, Part
from simulator.spend.chances import GainDoubt
from simulator.spend.rerides import Race


@dataclass(frozen=True, slots=True, kw_only=True)
class PartSet:
    """A set of parts with what it costs and gains.

    ``gain_s`` is the weighted mean over the races, ``race_gains_s`` one a race; positive saves
    time against the build as it is. ``share`` is the share of the gap to the target that it
    closes, None without a target that is faster.
    """

    parts: tuple[Part, ...]
    price: float
    gain_s: float
    race_gains_s: tuple[float, ...]
    share: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class PartLoss:
    """What a set loses without one of its parts, in s; None where others need that part."""

    part: Part
    loss_s: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Rival:
    """Another set beside the best one.

    ``lead_s`` is what the best set gains on it, ``doubt`` how sure that lead is.
    """

    chosen: PartSet
    lead_s: float
    doubt: GainDoubt | None


@dataclass(frozen=True, slots=True, kw_only=True)
class SureGain:
    """A set that gains more than its doubt where the best one does not."""

    chosen: PartSet
    doubt: GainDoubt


@dataclass(frozen=True, slots=True, kw_only=True)
class BudgetAnswer:
    """The best set for one budget.

    Attributes
    ----------
    best : PartSet
        No set of the catalogue that fits the budget is faster; empty where none gains anything.
    doubt : GainDoubt or None
        How sure its gain is; None without draws or without parts.
    losses : tuple of PartLoss
        Its parts, the one that gives most first.
    least : PartLoss or None
        The part that gives least, of those that cost something where there are several such;
        ``least_doubt`` says how sure that is.
    rival : Rival or None
        The set that comes next; None where there is no other.
    leaner : Rival or None
        The cheapest set found on the way down from the best one that the figures cannot tell
        from it; None where every cheaper one is slower for sure.
    next_buy : SinglePart or None
        The one part to buy if it is to be only one.
    surer : SureGain or None
        Where the best set's gain lies within its doubt: of the sets on the frontier, the single
        parts and the best set's own sure parts, what gains most for sure. None if nothing does.
    """

    budget: float
    best: PartSet
    doubt: GainDoubt | None
    losses: tuple[PartLoss, ...]
    least: PartLoss | None
    least_doubt: GainDoubt | None
    rival: Rival | None
    leaner: Rival | None
    next_buy: SinglePart | None
    surer: SureGain | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SinglePart:
    """One part alone on the build as it is.

    ``gain_s`` is None where it does not fit alone, and ``reason`` says why.
    """

    part: Part
    price: float
    gain_s: float | None
    doubt: GainDoubt | None
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RaceTimes:
    """Times of the build as it is and of the target on one race; weights sum to 1."""

    name: str
    weight: float
    base_s: float
    target_s: float | None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Spending:
    """The answer.

    Attributes
    ----------
    races : tuple of RaceTimes
        In the order of the plan.
    gap_s : float or None
        Weighted mean of what the build loses to the target; None without a target.
    n_sets : int
        Sets ridden: all that fit the largest budget and go together.
    n_raw : int
        Ways to take one option a slot.
    unused : tuple of Part
        Parts that no set could hold though they cost no more than the largest budget.
    budgets : tuple of BudgetAnswer
        Ascending.
    singles : tuple of SinglePart
        Each part alone, the one that gains most first.
    frontier : tuple of PartSet
        Sets than which no other is both faster and no dearer, the cheapest first.
    """

    build: Build
    target: Build | None
    catalogue: Catalogue
    plan: tuple[Race, ...]
    races: tuple[RaceTimes, ...]
    gap_s: float | None
    n_sets: int
    n_raw: int
    budgets: tuple[BudgetAnswer, ...]
    singles: tuple[SinglePart, ...]
    frontier: tuple[PartSet, ...]
    n_draws: int
    seed: int
    unused: tuple[Part, ...] = ()

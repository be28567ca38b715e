"""Sentences about what a budget buys."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Protocol

from simulator.report import words

UNKNOWN_TO_A_CATALOGUE = (
    "What a catalogue cannot know: whether a part fits your frame and your body, what a "
    "guarantee covers, what your local rules allow, what is in stock. Ask before you buy."
)

HOW_FOUND = (
    "Every set of parts that goes together and fits the largest budget was ridden over every "
    "race, all to the same power by place; nothing was added up part by part, so what parts do to "
    "each other is in the figures."
)

MOST_UNUSED = 6
"""Parts that a sentence names."""

NO_DRAWS = "No draws were made or nothing carries a doubt, so the gains are given without one."


class Lead(Protocol):
    """What the sentences need of a gain."""

    @property
    def gain_s(self) -> float:
        """In s."""
        ...

    @property
    def half_s(self) -> float | None:
        """Half the interval of nine in ten draws, in s."""
        ...

    @property
    def chance(self) -> float | None:
        """Share of draws with a gain."""
        ...

    @property
    def is_measurable(self) -> bool:
        """Whether the figures can tell."""
        ...


def money(sum_of_it: float, currency: str = "") -> str:
    """A sum, with cents only where there are any: ``1,500 crowns``."""
    decimals = 0 if abs(sum_of_it - round(sum_of_it)) < 0.005 else 2
    text = words.number(sum_of_it, decimals)
    return f"{text} {currency}" if currency else text


def where(names: Sequence[str]) -> str:
    """Where: ``on Gull Hill``, ``on these three races``."""
    return f"on {names[0]}" if len(names) == 1 else f"on these {words.count(len(names))} races"


def kind_of_mean(weights: Sequence[float]) -> str:
    """``mean``, or ``weighted mean`` where the races do not count the same."""
    return "mean" if max(weights) - min(weights) < 1e-9 else "weighted mean"


def per_race(names: Sequence[str], mean: str = "mean") -> str:
    """What a gain is over: ``on Gull Hill``, ``a race (mean of three)``."""
    if len(names) == 1:
        return f"on {names[0]}"
    return f"a race ({mean} of {words.count(len(names))})"


def listed(names: Sequence[str]) -> str:
    """Names in a sentence: ``a``, ``a and b``, ``a, b and c``."""
    if len(names) <= 1:
        return "".join(names)
    return f"{', '.join(names[:-1])} and {names[-1]}"


def facts(*, n_parts: int, n_slots: int, n_sets: int, n_races: int) -> str:
    """The search in one line."""
    return " · ".join(
        [
            f"{words.plural(n_parts, 'part')} for {words.plural(n_slots, 'slot')}",
            f"{words.plural(n_sets, 'set')} ridden",
            words.plural(n_races, "race"),
        ]
    )


def closing(share: float | None, target: str | None, gain_s: float) -> str:
    """How much of the gap is closed: ``, 62 % of the gap to Gannet``."""
    if share is None or target is None or gain_s <= 0.0:
        return ""
    if share < 0.995:
        return f", {words.percent(share)} of the gap to {target}"
    if share < 1.005:
        return f", the whole gap to {target}"
    return f", more than the whole gap to {target}"


def headline(
    *,
    build: str,
    target: str | None,
    races: Sequence[str],
    currency: str,
    budget: float,
    names: Sequence[str],
    gain_s: float,
    half_s: float | None,
    is_measurable: bool,
    share: float | None,
    surer: str = "",
    mean: str = "mean",
) -> str:
    """The plan for the largest budget as one would say it aloud."""
    purse = money(budget, currency) if budget else "nothing spent"
    if not names or gain_s < words.TIE_S:
        return f"Nothing in the catalogue makes {build} faster {where(races)} for {purse}."
    size = f"{words.seconds_give_or_take(gain_s, half_s)} {per_race(races, mean)}"
    if not is_measurable and surer:
        return f"For {purse}, the best set for {build} gains {size}, within its doubt; {surer}."
    if not is_measurable and budget:
        return (
            f"Nothing that {purse} buys helps {build} by more than its doubt: the best set gains "
            f"{size}. Keep the money."
        )
    if not is_measurable:
        return (
            f"Nothing that is free helps {build} by more than its doubt: the best set gains {size}."
        )
    return f"For {purse}, {build} gains {size}{closing(share, target, gain_s)}."


def budget_sentence(
    *,
    budget: float,
    price: float,
    currency: str,
    n_parts: int,
    gain_s: float,
    half_s: float | None,
    is_measurable: bool,
    share: float | None,
    target: str | None,
    surer: str = "",
) -> str:
    """One budget in one sentence."""
    head = f"With {money(budget, currency)}" if budget else "For nothing"
    if not n_parts or gain_s < words.TIE_S:
        return f"{head}: nothing in the catalogue helps; leave the bike as it is."
    size = words.seconds_give_or_take(gain_s, half_s)
    things = words.plural(n_parts, "part or measure", "parts and measures")
    spent = f", {money(price, currency)} in all," if budget else ""
    if not is_measurable:
        return (
            f"{head}: the best set ({things}{spent.rstrip(',')}) gains {size}, which is no "
            f"measurable difference{'; ' if surer else ''}{surer}."
        )
    verb = "gains" if n_parts == 1 else "gain"
    return f"{head}: {things}{spent} {verb} {size}{closing(share, target, gain_s)}."


def sure_clause(names: Sequence[str], gain: Lead) -> str:
    """What gains for sure where the best set does not."""
    size = words.seconds_give_or_take(gain.gain_s, gain.half_s)
    verb = "alone gains" if len(names) == 1 else "together gain"
    return f"for sure, {listed(names)} {verb} {size}"


def least_sentence(
    name: str, loss: Lead, *, is_of_paid: bool, price: float = 0.0, currency: str = ""
) -> str:
    """Which part gives least, and what the set costs less without it."""
    tail = "" if loss.is_measurable else "; that is no measurable difference"
    size = words.seconds_give_or_take(loss.gain_s, loss.half_s)
    saved = f" and costs {money(price, currency)} less" if price > 0.0 else ""
    head = "Of what costs money, the one" if is_of_paid else "The one"
    return f"{head} that gives least is {name}: the set loses {size} without it{saved}{tail}."


def difference(best: Sequence[str], other: Sequence[str]) -> str:
    """How another set differs: ``with A instead of B``."""
    has = [name for name in other if name not in best]
    lacks = [name for name in best if name not in other]
    if has and lacks:
        return f"with {listed(has)} instead of {listed(lacks)}"
    if has:
        return f"with {listed(has)} as well"
    return f"without {listed(lacks)}" if lacks else "the same"


def rival_sentence(best: Sequence[str], other: Sequence[str], lead: Lead) -> str:
    """The set that comes next and whether the best one really beats it."""
    what = f"The set that comes next, {difference(best, other)}"
    size = words.seconds(lead.gain_s)
    if abs(lead.gain_s) < words.TIE_S:
        size = f"less than {words.TIE_S} s"
    if lead.chance is None:
        return f"{what}, is {size} slower."
    often = f"the best set beats it in {words.percent(lead.chance)} of the draws"
    if lead.is_measurable:
        return f"{what}, is {words.seconds_give_or_take(lead.gain_s, lead.half_s)} slower: {often}."
    return f"{what}, is {size} slower on paper: {often}, no measurable difference."


def leaner_sentence(
    best: Sequence[str], other: Sequence[str], saved: float, lead: Lead, currency: str
) -> str:
    """A cheaper set that the figures cannot tell from the best one."""
    return (
        f"Spend {money(saved, currency)} less, {difference(best, other)}, and these figures can "
        f"tell no difference ({words.seconds_give_or_take(lead.gain_s, lead.half_s)} slower on "
        "paper)."
    )


def next_sentence(name: str, price: float, gain: Lead, currency: str) -> str:
    """The best single purchase."""
    size = words.seconds_give_or_take(gain.gain_s, gain.half_s)
    tail = "" if gain.is_measurable else ", which is no measurable difference"
    return (
        f"If it is to be one purchase only: {name}, {money(price, currency)}, gains {size} on the "
        f"bike as it is{tail}."
    )


class Bought(Protocol):
    """What the sentences need of a line of a shopping list."""

    @property
    def labour(self) -> float:
        """In the currency of the catalogue."""
        ...

    @property
    def resale(self) -> float:
        """In the currency of the catalogue."""
        ...

    @property
    def note(self) -> str:
        """What a buyer should know."""
        ...


def buy_details(buy: Bought) -> str:
    """What a narrow table leaves out: ``labour 60, resale 10; try one before you buy``."""
    sums = [
        f"{name} {money(what)}"
        for name, what in (("labour", buy.labour), ("resale", buy.resale))
        if what
    ]
    return "; ".join(text for text in (", ".join(sums), buy.note) if text)


def unused_sentence(names: Sequence[str]) -> str:
    """Parts that could not be bought at all."""
    shown = [
        *names[:MOST_UNUSED],
        *([f"{len(names) - MOST_UNUSED} more"] * (len(names) > MOST_UNUSED)),
    ]
    return (
        "In no set though the largest budget would pay for it, because it does not go with the "
        f"rest or needs parts that cost too much: {listed(shown)}."
    )


def no_gap_sentence(build: str, target: str) -> str:
    """Where the target is no faster."""
    return f"{target} is no faster than {build} on these races, so there is no gap to close."

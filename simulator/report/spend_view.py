"""What a budget buys: what is shown, as plain frozen records."""

from __future__ import annotations

from dataclasses import dataclass

from simulator.measures import METRIC, Measures
from simulator.report import spend_words
from simulator.report.spend_notes import spend_notes
from simulator.report.views import NoteView
from simulator.setup import CENTS, part_cents
from simulator.spend import (
    LEAST_S,
    BudgetAnswer,
    GainDoubt,
    PartSet,
    Rival,
    SinglePart,
    Spending,
    SureGain,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class GainView:
    """A gain in s and its doubt; positive saves time.

    ``low_s`` and ``high_s`` hold nine in ten draws, ``half_s`` is half their distance, ``chance``
    the share of draws in which there is a gain; all None without draws.
    """

    gain_s: float
    half_s: float | None
    low_s: float | None
    high_s: float | None
    chance: float | None
    is_measurable: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class BuyView:
    """One line of a shopping list.

    ``loss_s`` is what the set loses without it, None where other parts of the set need it.
    """

    name: str
    slots: tuple[str, ...]
    instead_of: str
    price: float
    labour: float
    resale: float
    net: float
    loss_s: float | None
    note: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SetView:
    """A set of parts in short; `gain_s` in s against the build as it is."""

    names: tuple[str, ...]
    price: float
    gain_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class RivalView:
    """Another set beside the best one; the lead of the best set over it, in s."""

    chosen: SetView
    lead: GainView


@dataclass(frozen=True, slots=True, kw_only=True)
class SureView:
    """A set that gains more than its doubt where the best one does not."""

    chosen: SetView
    gain: GainView


@dataclass(frozen=True, slots=True, kw_only=True)
class BudgetView:
    """The best set for one budget.

    ``share`` is the share of the gap to the target that it closes; None without a slower target.
    ``race_gains_s`` are in the order of the races.
    """

    budget: float
    sentence: str
    more: tuple[str, ...]
    price: float
    gain: GainView
    share: float | None
    race_gains_s: tuple[float, ...]
    buys: tuple[BuyView, ...]
    least: str | None
    rival: RivalView | None
    leaner: RivalView | None
    next_buy: str | None
    surer: SureView | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SingleView:
    """One part alone; ``gain`` is None where it does not fit alone, and ``reason`` says why."""

    name: str
    slots: tuple[str, ...]
    price: float
    gain: GainView | None
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RaceView:
    """One race: weights sum to 1, times in s."""

    name: str
    weight: float
    distance_m: float
    ascent_m: float
    pacing: str
    weather: str
    base_s: float
    target_s: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class SpendView:
    """All that is shown of a plan; gains are weighted means over the races, in s.

    It is worded in ``measures``; ``in_si`` is the same for JSON.
    """

    sentence: str
    build: str
    target: str | None
    gap_s: float | None
    currency: str
    source: str
    facts: str
    n_sets: int
    n_raw: int
    n_parts: int
    n_draws: int
    seed: int
    races: tuple[RaceView, ...]
    budgets: tuple[BudgetView, ...]
    singles: tuple[SingleView, ...]
    frontier: tuple[SetView, ...]
    notes: tuple[NoteView, ...]
    measures: Measures = METRIC
    in_si: SpendView | None = None


def make_spend_view(
    spending: Spending, *, cluster_notes: tuple[str, ...] = (), measures: Measures = METRIC
) -> SpendView:
    """Everything that is shown of an answer.

    Parameters
    ----------
    spending : Spending
        The answer.
    cluster_notes : tuple of str
        What is to be said about the machines that rode.
    measures : Measures
        Units to word it in.
    """
    budgets = tuple(
        _budget(answer, spending, is_next_told=i > 0 and _next_name(before) == _next_name(answer))
        for i, (before, answer) in enumerate(
            zip([spending.budgets[0], *spending.budgets], spending.budgets, strict=False)
        )
    )
    target = None if spending.target is None else spending.target.name
    n_races = len(spending.races)
    return SpendView(
        sentence=spend_words.headline(
            build=spending.build.name,
            target=target,
            races=[race.name for race in spending.races],
            currency=spending.catalogue.currency,
            budget=budgets[-1].budget,
            names=_names(spending.budgets[-1].best),
            gain_s=budgets[-1].gain.gain_s,
            half_s=budgets[-1].gain.half_s,
            is_measurable=budgets[-1].gain.is_measurable,
            share=budgets[-1].share,
            surer=_sure_words(budgets[-1].surer),
            mean=spend_words.kind_of_mean([race.weight for race in spending.races]),
        ),
        build=spending.build.name,
        target=target,
        gap_s=spending.gap_s,
        currency=spending.catalogue.currency,
        source=spending.catalogue.source,
        facts=spend_words.facts(
            n_parts=len(spending.catalogue.parts),
            n_slots=len(spending.catalogue.slots),
            n_sets=spending.n_sets,
            n_races=n_races,
        ),
        n_sets=spending.n_sets,
        n_raw=spending.n_raw,
        n_parts=len(spending.catalogue.parts),
        n_draws=spending.n_draws,
        seed=spending.seed,
        races=tuple(
            RaceView(
                name=times.name,
                weight=times.weight,
                distance_m=race.course.distance_m,
                ascent_m=race.course.ascent_m,
                pacing=measures.said(race.demand.text),
                weather=race.weather.name,
                base_s=times.base_s,
                target_s=times.target_s,
            )
            for times, race in zip(spending.races, spending.plan, strict=True)
        ),
        budgets=budgets,
        singles=tuple(_single(single) for single in spending.singles),
        frontier=tuple(_set(each) for each in spending.frontier),
        notes=spend_notes(spending, cluster_notes, measures),
        measures=measures,
        in_si=None
        if measures is METRIC
        else make_spend_view(spending, cluster_notes=cluster_notes),
    )


def _names(chosen: PartSet) -> tuple[str, ...]:
    return tuple(part.name for part in chosen.parts)


def _set(chosen: PartSet) -> SetView:
    return SetView(names=_names(chosen), price=chosen.price, gain_s=chosen.gain_s)


def _gain(gain_s: float, doubt: GainDoubt | None) -> GainView:
    if doubt is None:
        return GainView(
            gain_s=gain_s,
            half_s=None,
            low_s=None,
            high_s=None,
            chance=None,
            is_measurable=gain_s >= LEAST_S,
        )
    return GainView(
        gain_s=gain_s,
        half_s=0.5 * (doubt.high_s - doubt.low_s),
        low_s=doubt.low_s,
        high_s=doubt.high_s,
        chance=doubt.chance,
        is_measurable=doubt.is_told_apart,
    )


def _rival(rival: Rival | None) -> RivalView | None:
    if rival is None:
        return None
    return RivalView(chosen=_set(rival.chosen), lead=_gain(rival.lead_s, rival.doubt))


def _surer(surer: SureGain | None) -> SureView | None:
    if surer is None:
        return None
    return SureView(chosen=_set(surer.chosen), gain=_gain(surer.chosen.gain_s, surer.doubt))


def _sure_words(surer: SureView | None) -> str:
    if surer is None:
        return ""
    return spend_words.sure_clause(surer.chosen.names, surer.gain)


def _is_of_paid(answer: BudgetAnswer, spending: Spending) -> bool:
    """Whether the part that gives least was looked for only among those that cost something."""
    costs = {part.name: part_cents(spending.catalogue, part) for part in answer.best.parts}
    is_paid = answer.least is not None and costs[answer.least.part.name] > 0
    return is_paid and min(costs.values()) <= 0 and sum(cents > 0 for cents in costs.values()) > 1


def _next_name(answer: BudgetAnswer) -> str | None:
    return answer.next_buy.part.name if answer.next_buy else None


def _budget(answer: BudgetAnswer, spending: Spending, *, is_next_told: bool) -> BudgetView:
    best, currency = answer.best, spending.catalogue.currency
    gain = _gain(best.gain_s, answer.doubt)
    rival, leaner, surer = _rival(answer.rival), _rival(answer.leaner), _surer(answer.surer)
    target = None if spending.target is None else spending.target.name
    more = [
        spend_words.least_sentence(
            answer.least.part.name,
            _gain(answer.least.loss_s or 0.0, answer.least_doubt),
            is_of_paid=_is_of_paid(answer, spending),
            price=part_cents(spending.catalogue, answer.least.part) / CENTS,
            currency=currency,
        )
        if answer.least
        else "",
        spend_words.rival_sentence(_names(best), rival.chosen.names, rival.lead) if rival else "",
        spend_words.leaner_sentence(
            _names(best),
            leaner.chosen.names,
            best.price - leaner.chosen.price,
            leaner.lead,
            currency,
        )
        if leaner
        else "",
        spend_words.next_sentence(
            answer.next_buy.part.name,
            answer.next_buy.price,
            _gain(answer.next_buy.gain_s or 0.0, answer.next_buy.doubt),
            currency,
        )
        if answer.next_buy and not is_next_told
        else "",
    ]
    return BudgetView(
        budget=answer.budget,
        sentence=spend_words.budget_sentence(
            budget=answer.budget,
            price=best.price,
            currency=currency,
            n_parts=len(best.parts),
            gain_s=best.gain_s,
            half_s=gain.half_s,
            is_measurable=gain.is_measurable,
            share=best.share,
            target=target,
            surer=_sure_words(surer),
        ),
        more=tuple(text for text in more if text),
        price=best.price,
        gain=gain,
        share=best.share,
        race_gains_s=best.race_gains_s,
        buys=tuple(_buys(answer, spending)),
        least=answer.least.part.name if answer.least else None,
        rival=rival,
        leaner=leaner,
        next_buy=_next_name(answer),
        surer=surer,
    )


def _buys(answer: BudgetAnswer, spending: Spending) -> list[BuyView]:
    slots = {slot.name: slot for slot in spending.catalogue.slots}
    losses = {loss.part.name: loss.loss_s for loss in answer.losses}
    buys = []
    for part in answer.best.parts:
        resale = sum(slots[name].resale for name in part.slots)
        buys.append(
            BuyView(
                name=part.name,
                slots=part.slots,
                instead_of=", ".join(slots[name].now for name in part.slots),
                price=part.price,
                labour=part.labour,
                resale=resale,
                net=part.price + part.labour - resale,
                loss_s=losses[part.name],
                note=part.note,
            )
        )
    return buys


def _single(single: SinglePart) -> SingleView:
    return SingleView(
        name=single.part.name,
        slots=single.part.slots,
        price=single.price,
        gain=None if single.gain_s is None else _gain(single.gain_s, single.doubt),
        # The part's own name stands at the head of its row.
        reason=single.reason.replace(f"{single.part.name}: ", ""),
    )

"""Tables of a `SpendView`, once for terminal and page."""

from __future__ import annotations

import math

from simulator.report import words
from simulator.report.spend_view import BudgetView, GainView, SpendView
from simulator.report.spend_words import money
from simulator.report.tables import Cell, Column, Table, TableRow


def _half(gain: GainView | None) -> Cell:
    if gain is None or gain.half_s is None:
        return Cell(text=words.NOTHING)
    return Cell(text=words.number(gain.half_s, 1), sort=gain.half_s)


def _seconds(gain_s: float | None) -> Cell:
    if gain_s is None:
        return Cell(text=words.NOTHING)
    return Cell(text=words.number(gain_s, 1), sort=gain_s)


def _money(sum_of_it: float) -> Cell:
    return Cell(text=money(sum_of_it), sort=sum_of_it)


def race_table(view: SpendView) -> Table:
    """The races with the times of the build as it is and of the target."""
    target = () if view.target is None else (Column(label=view.target), Column(label="Gap, s"))
    rows = []
    for race in view.races:
        cells = [
            Cell(text=race.name, sort=race.name),
            Cell(text=view.measures.distance(race.distance_m), sort=race.distance_m),
            Cell(text=words.percent(race.weight), sort=race.weight),
            Cell(text=words.stopwatch(race.base_s), sort=race.base_s),
        ]
        if view.target is not None and race.target_s is not None:
            cells.append(Cell(text=words.stopwatch(race.target_s), sort=race.target_s))
            cells.append(_seconds(race.base_s - race.target_s))
        rows.append(TableRow(cells=tuple(cells)))
    return Table(
        key="races",
        caption="The races and what they count",
        columns=(
            Column(label="Race", is_text=True),
            Column(label="Length"),
            Column(label="Weight"),
            Column(label=view.build),
            *target,
        ),
        rows=tuple(rows),
    )


def budget_table(view: SpendView) -> Table:
    """The best set for each budget."""
    rows = []
    most_s = max((abs(budget.gain.gain_s) for budget in view.budgets), default=0.0)
    for budget in view.budgets:
        share = words.NOTHING if budget.share is None else words.percent(budget.share)
        bar = budget.gain.gain_s / most_s if most_s > 0.0 else 0.0
        chance = budget.rival.lead.chance if budget.rival else None
        rows.append(
            TableRow(
                cells=(
                    Cell(text=budget_name(budget), sort=budget.budget),
                    _money(budget.price),
                    Cell(
                        text=words.number(budget.gain.gain_s, 1),
                        sort=budget.gain.gain_s,
                        bar=-bar,
                    ),
                    _half(budget.gain),
                    Cell(text=share, sort=budget.share),
                    Cell(text=str(len(budget.buys)), sort=len(budget.buys)),
                    Cell(text=budget.least or words.NOTHING, sort=budget.least or ""),
                    Cell(
                        text=words.NOTHING if chance is None else words.percent(chance),
                        sort=chance,
                    ),
                )
            )
        )
    return Table(
        key="budgets",
        caption=f"The best set for each budget, in {view.currency}; gains in seconds a race, "
        "± holds nine in ten draws; “beats next” is how often it is ahead of the set that comes "
        "next",
        columns=(
            Column(label="Budget", is_text=True),
            Column(label="Spent"),
            Column(label="Gain, s", is_gap=True),
            Column(label="±"),
            Column(label="Of the gap"),
            Column(label="Parts", is_wide=True),
            Column(label="Gives least", is_text=True, is_wide=True),
            Column(label="Beats next", is_wide=True),
        ),
        rows=tuple(rows),
    )


def budget_name(budget: BudgetView) -> str:
    """A budget as it stands at the head of a row or column."""
    return money(budget.budget) if budget.budget else "free"


def basket_table(view: SpendView) -> Table:
    """Which part is in which set, and what that set would lose without it."""
    losses: dict[str, dict[int, float | None]] = {}
    for i, budget in enumerate(view.budgets):
        for buy in budget.buys:
            losses.setdefault(buy.name, {})[i] = buy.loss_s
    prices = {single.name: single.price for single in view.singles}
    order = [single.name for single in view.singles]
    rows = []

    def rank(name: str) -> tuple[float, int]:
        return -max(math.inf if s is None else s for s in losses[name].values()), order.index(name)

    for name in sorted(losses, key=rank):
        cells = [Cell(text=name, sort=name), _money(prices[name])]
        for i in range(len(view.budgets)):
            if i not in losses[name]:
                cells.append(Cell(text=""))
            elif losses[name][i] is None:
                cells.append(Cell(text="needed"))
            else:
                cells.append(_seconds(losses[name][i]))
        rows.append(TableRow(cells=tuple(cells)))
    return Table(
        key="baskets",
        caption="What is in the best set for each budget: the seconds that the set loses without "
        "it, or “needed” where other parts of the set need it",
        columns=(
            Column(label="Part", is_text=True),
            Column(label="Costs"),
            *(Column(label=budget_name(budget)) for budget in view.budgets),
        ),
        rows=tuple(rows),
    )


def shopping_table(view: SpendView, budget: BudgetView, key: str) -> Table:
    """The shopping list for one budget."""
    rows = [
        TableRow(
            cells=(
                Cell(text=buy.name, sort=buy.name),
                Cell(text=buy.instead_of, sort=buy.instead_of),
                _money(buy.price),
                _money(buy.labour),
                _money(-buy.resale),
                _money(buy.net),
                Cell(text="needed", sort=None) if buy.loss_s is None else _seconds(buy.loss_s),
                Cell(text=buy.note, sort=buy.note),
            )
        )
        for buy in budget.buys
    ]
    total = TableRow(
        cells=(
            Cell(text="In all"),
            Cell(text=""),
            _money(sum(buy.price for buy in budget.buys)),
            _money(sum(buy.labour for buy in budget.buys)),
            _money(-sum(buy.resale for buy in budget.buys)),
            _money(budget.price),
            Cell(text=""),
            Cell(text=""),
        )
    )
    return Table(
        key=key,
        caption=f"Shopping list, in {view.currency}; last the seconds that the set loses without "
        "the part",
        columns=(
            Column(label="Buy or do", is_text=True),
            Column(label="Instead of", is_text=True, is_wide=True),
            Column(label="Price"),
            Column(label="Labour", is_wide=True),
            Column(label="Resale", is_wide=True),
            Column(label="Costs"),
            Column(label="Worth, s"),
            Column(label="Mind", is_text=True, is_wide=True),
        ),
        rows=tuple(rows),
        total=total,
    )


def single_table(view: SpendView) -> Table:
    """Each part alone on the bike as it is."""
    rows = []
    for single in view.singles:
        gain = single.gain
        per_hundred = None
        if gain is not None and gain.gain_s > 0.0 and single.price > 0.0:
            per_hundred = 100.0 * gain.gain_s / single.price
        if gain is None:
            verdict = single.reason
        elif gain.gain_s < words.TIE_S:
            verdict = "no gain"
        elif gain.half_s is None and view.n_draws > 1:
            verdict = "not drawn"
        else:
            verdict = "" if gain.is_measurable else "not measurable"
        rows.append(
            TableRow(
                cells=(
                    Cell(text=single.name, sort=single.name),
                    _money(single.price),
                    _seconds(None if gain is None else gain.gain_s),
                    _half(gain),
                    _seconds(per_hundred),
                    Cell(text=verdict, sort=verdict),
                )
            )
        )
    return Table(
        key="singles",
        caption=f"Each part alone on {view.build} as it is: seconds a race, and seconds for a "
        f"hundred {view.currency}",
        columns=(
            Column(label="Part", is_text=True),
            Column(label="Costs"),
            Column(label="Gain, s"),
            Column(label="±"),
            Column(label="s per 100", is_wide=True),
            Column(label="Verdict", is_text=True),
        ),
        rows=tuple(rows),
    )

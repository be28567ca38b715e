"""The self-contained page of what a budget buys."""

from __future__ import annotations

from dataclasses import dataclass

from markupsafe import Markup

from simulator.report import spend_tables, spend_words, words
from simulator.report.page import environment, furniture, template_text
from simulator.report.spend_view import SpendView
from simulator.report.spend_words import money


@dataclass(frozen=True, slots=True, kw_only=True)
class Tick:
    """A number on an axis and where it stands, in percent from the left or the top."""

    text: str
    at_pct: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """The best set for one budget in the picture; places in percent from left and top."""

    number: int
    text: str
    x_pct: float
    y_pct: float
    low_pct: float
    high_pct: float


@dataclass(frozen=True, slots=True, kw_only=True)
class FrontierChart:
    """Price against seconds; the path stands in a box of 1000 by 100."""

    path: str
    dots: tuple[tuple[float, float, str], ...]
    marks: tuple[Mark, ...]
    x_ticks: tuple[Tick, ...]
    y_ticks: tuple[Tick, ...]
    target_pct: float | None


def spend_page(view: SpendView) -> str:
    """The page as HTML text: no network, no library; what comes from files is escaped."""
    return (
        environment()
        .get_template("spend.html.j2")
        .render(
            view=view,
            chart=frontier_chart(view),
            races=spend_tables.race_table(view),
            budgets=spend_tables.budget_table(view),
            baskets=spend_tables.basket_table(view),
            singles=spend_tables.single_table(view),
            lists=[
                (budget, spend_tables.shopping_table(view, budget, f"list-{i + 1}"))
                for i, budget in enumerate(view.budgets)
            ],
            budget_name=spend_tables.budget_name,
            buy_details=spend_words.buy_details,
            money=money,
            more_css=Markup(template_text("spend.css")),
            **furniture(template_text("sort.js")),
        )
    )


def frontier_chart(view: SpendView) -> FrontierChart:
    """Where everything stands in the picture of the page."""
    prices = [each.price for each in view.frontier]
    most = max([*prices, *(budget.budget for budget in view.budgets), 1.0])
    least = min([*prices, 0.0])
    ends = [each.gain_s for each in view.frontier]
    ends += [g for b in view.budgets for g in (b.gain.low_s, b.gain.high_s) if g is not None]
    if view.gap_s is not None:
        ends.append(view.gap_s)
    low, high = min([*ends, 0.0]), max([*ends, 1.0])
    high += 0.06 * (high - low)

    def x_pct(price: float) -> float:
        return round(100.0 * (price - least) / (most - least) * 0.97, 2)

    def y_pct(gain_s: float) -> float:
        return round(100.0 * (high - gain_s) / (high - low), 2)

    steps = []
    for i, each in enumerate(view.frontier):
        x = 10.0 * x_pct(each.price)
        steps.append(f"{'H' if i else 'M'}{x:.1f}" + ("" if i else f" {y_pct(each.gain_s)}"))
        if i:
            steps.append(f"V{y_pct(each.gain_s)}")
    steps.append(f"H{10.0 * x_pct(most):.1f}")
    return FrontierChart(
        path="".join(steps),
        dots=tuple(
            (
                x_pct(each.price),
                y_pct(each.gain_s),
                f"{money(each.price, view.currency)}, {words.seconds(each.gain_s)}: "
                + (", ".join(each.names) or "nothing"),
            )
            for each in view.frontier
        ),
        marks=tuple(
            Mark(
                number=i + 1,
                text=spend_tables.budget_name(budget),
                x_pct=x_pct(budget.price),
                y_pct=y_pct(budget.gain.gain_s),
                low_pct=y_pct(
                    budget.gain.gain_s if budget.gain.low_s is None else budget.gain.low_s
                ),
                high_pct=y_pct(
                    budget.gain.gain_s if budget.gain.high_s is None else budget.gain.high_s
                ),
            )
            for i, budget in enumerate(view.budgets)
        ),
        x_ticks=tuple(Tick(text=money(p), at_pct=x_pct(p)) for p in _round_numbers(least, most)),
        y_ticks=tuple(
            Tick(text=words.number(s), at_pct=y_pct(s)) for s in _round_numbers(low, high)
        ),
        target_pct=y_pct(view.gap_s) if view.gap_s is not None and view.gap_s > 0.0 else None,
    )


def _round_numbers(low: float, high: float) -> list[float]:
    """Four to nine round numbers between two ends."""
    step = 1.0
    while (high - low) / step > 9.0:
        step *= 2.5 if str(step).startswith("2") else 2.0
    first = -int(-low // step) if low < 0.0 else 0
    number = step * (first if low >= 0.0 else int(low // step) + 1)
    found = []
    while number <= high:
        found.append(number)
        number += step
    return found

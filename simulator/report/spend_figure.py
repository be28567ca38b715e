"""The frontier: price against seconds, with the sets for the budgets labelled."""

from __future__ import annotations

import textwrap

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from simulator.report import palette, style, words
from simulator.report.spend_tables import budget_name
from simulator.report.spend_view import BudgetView, SpendView
from simulator.report.spend_words import kind_of_mean, money

_WIDTH_IN = 11.0
_LEFT_IN, _RIGHT_IN, _KEY_IN = 0.85, 0.35, 4.1
_LINE_IN = 0.165
_KEY_LETTERS = 56
_GLUE = "\N{NO-BREAK SPACE}"


def draw_spend(view: SpendView) -> Figure:
    """Draw price against seconds gained.

    Parameters
    ----------
    view : SpendView
        What to show.

    Returns
    -------
    Figure
        Left the frontier with the best set for each budget and its interval, right what is in
        those sets.
    """
    keys = [_key_lines(i, budget, view) for i, budget in enumerate(view.budgets)]
    n_lines = sum(len(lines) + 1 for lines in keys)
    height = max(6.0, 1.6 + _LINE_IN * n_lines)
    with style.house_style():
        figure = style.new_figure(_WIDTH_IN, height)
        title = palette.balanced(view.sentence, 84)
        top_in = 0.35 + 0.27 * (title.count("\n") + 1)
        axes = figure.add_axes(
            (
                _LEFT_IN / _WIDTH_IN,
                0.85 / height,
                (_WIDTH_IN - _LEFT_IN - _RIGHT_IN - _KEY_IN) / _WIDTH_IN,
                (height - top_in - 1.05) / height,
            )
        )
        _draw_frontier(axes, view)
        _draw_budgets(axes, view)
        figure.text(
            _LEFT_IN / _WIDTH_IN,
            1.0 - 0.25 / height,
            title,
            fontsize=13.0,
            weight="bold",
            va="top",
            linespacing=1.3,
        )
        y_in = height - top_in - 0.25
        for lines in keys:
            for i, line in enumerate(lines):
                figure.text(
                    1.0 - _KEY_IN / _WIDTH_IN,
                    y_in / height,
                    style.fitted(
                        figure,
                        line,
                        _KEY_IN - 0.15,
                        size_pt=style.SMALL_PT,
                        weight="normal" if i else "bold",
                    ),
                    fontsize=style.SMALL_PT,
                    weight="normal" if i else "bold",
                    color=palette.INK if i == 0 else palette.QUIET,
                    va="top",
                )
                y_in -= _LINE_IN
            y_in -= _LINE_IN
        figure.text(
            _LEFT_IN / _WIDTH_IN,
            0.12 / height,
            f"{_legend(view)}\n{words.CAUTION}",
            fontsize=7.5,
            color=palette.QUIET,
            va="bottom",
        )
    return figure


def _legend(view: SpendView) -> str:
    """What bars and signs mean."""
    texts = ["Every dot is a set that no other beats for its price."]
    if any(budget.gain.half_s is not None for budget in view.budgets):
        texts.append("Bars hold nine in ten draws.")
    if sum(bool(budget.buys) for budget in view.budgets) > 1:
        texts.append(f"+ and {words.MINUS}: against the set before.")
    return " ".join(texts)


def _key_lines(i: int, budget: BudgetView, view: SpendView) -> list[str]:
    head = f"{i + 1}  {budget_name(budget)}"
    if budget.budget:
        head += f" {view.currency}"
        if budget.price != budget.budget:
            head += f", {money(budget.price)} spent"
    head += f": {words.seconds_give_or_take(budget.gain.gain_s, budget.gain.half_s)}"
    if budget.share is not None and budget.gain.gain_s > 0.0:
        head += f", {words.percent(budget.share)} of the gap"
    names = ", ".join(buy.name for buy in budget.buys) or "leave the bike as it is"
    before = [buy.name for buy in view.budgets[i - 1].buys] if i else []
    now = [buy.name for buy in budget.buys]
    if i and before and now:
        new, gone = [n for n in now if n not in before], [n for n in before if n not in now]
        names = "; ".join(
            text
            for text in (
                ", ".join(f"+{_GLUE}{name}" for name in new),
                ", ".join(f"{words.MINUS}{_GLUE}{name}" for name in gone),
            )
            if text
        )
        names = names or "the same as before"
    return [head, *textwrap.wrap(names, _KEY_LETTERS)]


def _draw_frontier(axes: Axes, view: SpendView) -> None:
    style.quiet_axes(axes)
    prices = [each.price for each in view.frontier]
    gains = [each.gain_s for each in view.frontier]
    end = max([*prices, *(budget.budget for budget in view.budgets)], default=0.0)
    axes.step(
        [*prices, end],
        [*gains, gains[-1]],
        where="post",
        color=palette.BUILD_COLOURS[0],
        linewidth=style.CURVE_PT,
        zorder=2,
    )
    axes.plot(prices, gains, "o", color=palette.BUILD_COLOURS[0], markersize=3.2, zorder=3)
    if view.gap_s is not None and view.gap_s > 0.0:
        axes.axhline(
            view.gap_s, color=palette.BUILD_COLOURS[2], linewidth=1.2, linestyle=(0, (5, 3))
        )
        axes.annotate(
            f"{view.target} as it stands",
            (0.01, view.gap_s),
            xycoords=axes.get_yaxis_transform(),
            xytext=(0, 3),
            textcoords="offset points",
            color=palette.BUILD_COLOURS[2],
            fontsize=style.SMALL_PT,
        )
    axes.axhline(0.0, color=palette.QUIET, linewidth=style.HAIR_PT)
    axes.set_xlabel(f"Price of the set, {view.currency}")
    n_races = len(view.races)
    mean = kind_of_mean([race.weight for race in view.races])
    over = f"on {view.races[0].name}" if n_races == 1 else f"a race, {mean} of {n_races} races"
    axes.set_ylabel(f"Seconds gained {over}")
    axes.margins(x=0.09, y=0.12)
    axes.xaxis.set_major_formatter(lambda sum_of_it, _: money(sum_of_it))


def _draw_budgets(axes: Axes, view: SpendView) -> None:
    """The best set for each budget with its interval and number; equal sets share a mark."""
    places: dict[tuple[float, float], list[int]] = {}
    for i, budget in enumerate(view.budgets):
        places.setdefault((budget.price, budget.gain.gain_s), []).append(i)
    for (price, gain_s), numbers in places.items():
        gain = view.budgets[numbers[0]].gain
        if gain.low_s is not None and gain.high_s is not None:
            axes.plot(
                [price, price],
                [gain.low_s, gain.high_s],
                color=palette.BUILD_COLOURS[1],
                linewidth=6.0,
                alpha=0.28,
                solid_capstyle="butt",
                zorder=1.5,
            )
        text = ", ".join(str(i + 1) for i in numbers)
        axes.annotate(
            text,
            (price, gain_s),
            ha="center",
            va="center",
            fontsize=style.SMALL_PT,
            weight="bold",
            color=palette.PAPER,
            bbox={
                "boxstyle": "circle,pad=0.28" if len(numbers) == 1 else "round,pad=0.28",
                "facecolor": palette.BUILD_COLOURS[1],
                "edgecolor": palette.PAPER,
                "linewidth": style.HAIR_PT,
            },
            zorder=6,
        )

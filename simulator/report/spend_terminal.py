"""What a budget buys, in a terminal, as JSON and as CSV."""

from __future__ import annotations

from simulator.files import csv_text, json_text
from simulator.report import spend_tables
from simulator.report.spend_view import SpendView
from simulator.report.spend_words import money
from simulator.report.terminal import WIDTH, plain, table_lines, wrapped
from simulator.report.views import exported

_VERSION = 1
_MOST_SINGLES = 12
_MOST_COLUMNS = 6

SPEND_KEYS = {
    "sentence": "the answer for the largest budget as one says it",
    "build": "name of the build as it is",
    "target": "name of the better build; null without one",
    "gap_s": "weighted mean over the races of what the build loses to the target, s",
    "currency": "what prices are in",
    "source": "where the catalogue's figures come from",
    "facts": "the search in words",
    "n_sets": "sets ridden: all that go together and fit the largest budget",
    "n_raw": "ways to take one option a slot, whether they go together or not",
    "n_parts": "parts in the catalogue",
    "n_draws": "paired draws behind every doubt",
    "seed": "start of the draws",
    "races": "name, weight (they sum to 1), length and climbing (m), times (s)",
    "budgets": "for each budget the best set: price, gain (s a race, weighted mean; positive saves "
    "time), share of the gap closed, gain on each race, shopping list, the part that gives least, "
    "the set that comes next (lead in s), a leaner set that the figures cannot tell from the best "
    "one, the best single purchase; where the gain lies within its doubt, in surer what gains most "
    "for sure",
    "singles": "each part alone on the build as it is; gain is null where it does not fit alone",
    "frontier": "sets than which no other is both faster and no dearer, the cheapest first",
    "notes": "cautions, doubts and notes about the data",
}
"""Every key of the JSON's data and what it holds."""


def spend_text(
    view: SpendView, *, encoding: str = "utf-8", width: int = WIDTH, is_short: bool = False
) -> str:
    """The plan for a terminal; `is_short` for the sentence alone."""
    lines: list[str] = []
    if not is_short:
        lines += wrapped(f"{view.build}: {view.facts.replace(' · ', ', ')}", width)
        lines.append("")
        races = spend_tables.race_table(view)
        lines += table_lines("Race", races, range(len(races.columns)), width)
        lines += table_lines("Budget", spend_tables.budget_table(view), (0, 1, 2, 3, 4, 7), width)
        lines += _basket_lines(view, width)
        budget = view.budgets[-1]
        if budget.buys:
            table = spend_tables.shopping_table(view, budget, "shopping")
            purse = money(budget.budget, view.currency)
            lines += [f"Shopping list for {purse}" if budget.budget else "What to do for free"]
            lines += table_lines("Buy or do", table, (0, 2, 3, 4, 5, 6), width)
        lines += _single_lines(view, width)
    lines += wrapped(view.sentence, width)
    if not is_short:
        for budget in view.budgets:
            lines.append("")
            lines += wrapped(budget.sentence, width)
            for text in budget.more:
                lines += [f"  {line}" for line in wrapped(text, width - 2)]
        lines.append("")
        for note in view.notes:
            lines += wrapped(note.text, width)
    return "".join(plain(line.rstrip(), encoding) + "\n" for line in lines)


def _basket_lines(view: SpendView, width: int) -> list[str]:
    table = spend_tables.basket_table(view)
    if not table.rows:
        return []
    n_columns = len(table.columns)
    last = range(max(2, n_columns - _MOST_COLUMNS), n_columns)
    return table_lines("Worth in the set, s", table, (0, 1, *last), width)


def _single_lines(view: SpendView, width: int) -> list[str]:
    table = spend_tables.single_table(view)
    shown = table.rows[:_MOST_SINGLES]
    lines = table_lines("Alone, s", table, (0, 1, 2, 3, 4, 5), width, rows=shown)
    if len(table.rows) > len(shown):
        lines[-1:] = [f"  ({len(table.rows) - len(shown)} more not listed)", ""]
    return lines


def spend_json(view: SpendView) -> str:
    """The plan as JSON text: schema ``buildgap/spend``, SI units, keys explained in `about`."""
    data: dict[str, object] = {"about": SPEND_KEYS}
    data |= exported(view)
    return json_text("spend", data, version=_VERSION)


def shopping_csv(view: SpendView) -> str:
    """The shopping lists of all budgets as CSV text; ``worth_s`` is the loss without the part."""
    head = ["budget", "part", "slots", "instead_of", "price", "labour", "resale", "costs"]
    rows = [
        [
            budget.budget,
            buy.name,
            " + ".join(buy.slots),
            buy.instead_of,
            buy.price,
            buy.labour,
            buy.resale,
            buy.net,
            None if buy.loss_s is None else round(buy.loss_s, 3),
            buy.note,
        ]
        for budget in view.budgets
        for buy in budget.buys
    ]
    return csv_text([*head, "worth_s", "mind"], rows)

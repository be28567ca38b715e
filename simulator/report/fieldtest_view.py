"""What is shown of a field test, its verdict or its plan: one kind of view for all three.

Plain frozen records, as in ``views.py``. Start reading at `AnswerView`; the views are made in
``fieldtest_outcome.py``, ``fieldtest_verdict.py`` and ``fieldtest_plan.py``.
"""

from __future__ import annotations

from dataclasses import dataclass

from simulator.measures import METRIC, Measures
from simulator.report.tables import Cell, Column, Table, TableRow
from simulator.report.views import NoteView
from simulator.report.words import MINUS, number


@dataclass(frozen=True, slots=True, kw_only=True)
class ChartRow:
    """One dot of a chart with its interval; ``colour`` is the build's place, or None.

    ``low`` and ``high`` are None where there is no interval; ``text`` stands at the right.
    """

    label: str
    value: float
    low: float | None = None
    high: float | None = None
    colour: int | None = None
    text: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Chart:
    """Dots with intervals on one scale; ``band`` is shaded, ``lines`` are drawn across."""

    title: str
    x_label: str
    rows: tuple[ChartRow, ...]
    band: tuple[float, float] | None = None
    lines: tuple[tuple[float, str], ...] = ()
    most: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """One dot of a `Scatter`; ``colour`` is the build's place."""

    x: float
    y: float
    colour: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Outline:
    """A closed line of a `Scatter` in a build's colour, named at its right end."""

    xs: tuple[float, ...]
    ys: tuple[float, ...]
    colour: int
    label: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Scatter:
    """Dots and outlines over two scales; ``band`` of y is shaded."""

    title: str
    x_label: str
    y_label: str
    marks: tuple[Mark, ...]
    outlines: tuple[Outline, ...] = ()
    band: tuple[float, float] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class AnswerView:
    """All that is shown of one answer.

    ``kind`` is the schema's name in JSON; ``figures`` are the numbers for it, in SI; ``legend``
    explains short names in the picture. It is worded in ``measures``; ``in_si`` is the same for
    JSON.
    """

    kind: str
    title: str
    eyebrow: str
    sentence: str
    more: tuple[str, ...]
    tables: tuple[Table, ...]
    charts: tuple[Chart | Scatter, ...]
    notes: tuple[NoteView, ...]
    figures: dict[str, object]
    legend: str = ""
    measures: Measures = METRIC
    in_si: AnswerView | None = None


def text_table(
    key: str, caption: str, heads: tuple[str, ...], rows: list[tuple[str | float, ...]]
) -> Table:
    """A table whose first column is text, and those whose heads end in ``*``.

    A head that ends in ``~`` is left out on narrow screens. Cells sort by the number or time that
    they begin with.
    """
    return Table(
        key=key,
        caption=caption,
        columns=tuple(
            Column(
                label=head.rstrip("*~"),
                is_text=i == 0 or head.endswith("*"),
                is_wide=head.endswith("~"),
            )
            for i, head in enumerate(heads)
        ),
        rows=tuple(
            TableRow(cells=tuple(Cell(text=str(c), sort=_sort(str(c))) for c in row))
            for row in rows
        ),
    )


def _sort(text: str) -> float | str:
    """The number that a cell begins with, a time as seconds; else the text."""
    first = text.split(" ")[0].replace(MINUS, "-").replace(",", "")
    try:
        parts = [float(part) for part in first.split(":")]
    except ValueError:
        return text
    return sum(part * 60.0**i for i, part in enumerate(reversed(parts)))


def signed_small(value: float, decimals: int) -> str:
    """A signed number; infinite ones in words."""
    if value in (float("inf"), float("-inf")):
        return "none would do"
    text = number(value, decimals)
    return text if value < 0.0 or float(round(value, decimals)) == 0.0 else "+" + text


def give_or_take(value: float, sd: float, decimals: int, *, is_signed: bool = False) -> str:
    """A value with its standard uncertainty: ``0.302 ± 0.007``."""
    head = signed_small(value, decimals) if is_signed else number(value, decimals)
    return f"{head} ± {number(sd, decimals)}"

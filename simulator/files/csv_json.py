"""CSV and JSON out: cells that no spreadsheet runs as formulas; JSON that says what it is."""

from __future__ import annotations

import csv
import dataclasses
import io
import json
import math
import re
from collections.abc import Iterable, Mapping, Sequence
from numbers import Integral, Real

from simulator import __version__

_FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")

# Where the comma is the decimal mark, spreadsheets cut at semicolons, quoted or not.
_AFTER_SEMICOLON = re.compile(r"(;\s*)([=+\-@＝＋－＠])")


def csv_text(header: Sequence[str], rows: Iterable[Sequence[object]]) -> str:
    """A table as CSV text with plain line ends.

    Numbers are written so that reading them back gives the same number; a missing or infinite one
    is an empty cell. Text that a spreadsheet would run as a formula gets an apostrophe in front.

    Parameters
    ----------
    header : sequence of str
        Names of the columns, with their units.
    rows : iterable of sequences
        Cells: text, numbers, true or false, or None.

    Raises
    ------
    ValueError
        If a row has not as many cells as the header.
    """
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow([_cell(name) for name in header])
    for row in rows:
        if len(row) != len(header):
            msg = f"a row has {len(row)} cells, the header {len(header)}"
            raise ValueError(msg)
        writer.writerow([_cell(value) for value in row])
    return out.getvalue()


def json_text(kind: str, data: Mapping[str, object], *, version: int = 1) -> str:
    """A result as JSON text that names its schema and version.

    Parameters
    ----------
    kind : str
        What it is, as in "compare"; the schema is called "buildgap/compare".
    data : mapping
        The result: mappings, dataclasses, sequences, arrays, numbers, text. Numbers that JSON
        cannot hold (infinite or missing) become null.
    version : int
        Raised whenever a key changes its meaning or goes away.

    Raises
    ------
    TypeError
        If something in `data` has no form in JSON.
    """
    document = {
        "schema": f"buildgap/{kind}",
        "version": version,
        "made_by": f"buildgap {__version__}",
        "data": _plain(data),
    }
    return _laid_out(document, "\n") + "\n"


def _laid_out(value: object, line_end: str) -> str:
    """JSON with a line for each key and entry; a list of plain values stands on one line."""
    inner = line_end + " "
    if isinstance(value, dict) and value:
        rows = [f"{_one_line(key)}: {_laid_out(item, inner)}" for key, item in value.items()]
        return "{" + inner + f",{inner}".join(rows) + line_end + "}"
    if isinstance(value, list) and any(isinstance(item, dict | list) for item in value):
        return (
            "["
            + inner
            + f",{inner}".join(_laid_out(item, inner) for item in value)
            + line_end
            + "]"
        )
    return _one_line(value)


def _one_line(value: object) -> str:
    return json.dumps(value, ensure_ascii=False, allow_nan=False)


def _cell(value: object) -> str:
    if type(value) is float:  # nearly every cell of a long table: spare it the questions below
        return repr(value) if math.isfinite(value) else ""
    if hasattr(value, "tolist"):  # a number of numpy, which stays unimported here
        value = value.tolist()
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, Integral):
        return str(int(value))
    if isinstance(value, Real):
        number = float(value)
        return repr(number) if math.isfinite(number) else ""
    # The csv module leaves a lone carriage return unquoted; readers would end the row there.
    text = str(value).replace("\x00", "").replace("\r\n", "\n").replace("\r", "\n")
    text = "'" + text if text.lstrip(" ").startswith(_FORMULA_STARTS) else text
    return _AFTER_SEMICOLON.sub(r"\1'\2", text) if ";" in text else text


def _plain(value: object) -> object:
    """The same value as what ``json`` knows."""
    if type(value) is float:  # nearly every entry of a long array, as in `_cell`
        return value if math.isfinite(value) else None
    if value is None or isinstance(value, str | bool):
        return value
    if isinstance(value, Integral):
        return int(value)
    if isinstance(value, Real):
        number = float(value)
        return number if math.isfinite(number) else None
    if isinstance(value, Mapping):
        return {str(key): _plain(item) for key, item in value.items()}
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        names = [field.name for field in dataclasses.fields(value)]
        return {name: _plain(getattr(value, name)) for name in names}
    if hasattr(value, "tolist"):  # an array or a number of numpy, which stays unimported here
        return _plain(value.tolist())
    if isinstance(value, Iterable):
        return [_plain(item) for item in value]
    msg = f"{type(value).__name__} has no form in JSON"
    raise TypeError(msg)

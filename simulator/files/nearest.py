"""Which known word a mistyped one may have meant."""

from __future__ import annotations

import difflib
from collections.abc import Iterable

MAX_LISTED = 12

_UNITS = (
    "m", "km", "mm", "s", "min", "h", "mps", "kmh", "mph", "kg", "g", "lb", "n", "w", "kw", "j",
    "kj", "pa", "hpa", "mbar", "bar", "k", "degc", "degf", "deg", "rad", "m2", "kgm2", "kgm3",
    "rpm", "pct", "percent", "c", "f",
)  # fmt: skip
"""What may stand behind the last underscore of a key to say its unit."""


def nearest_text(word: str, known: Iterable[str]) -> str:
    """Advice for a key that is not known.

    A key that differs in capitals alone gets the right one; a key without its unit, or with another
    unit, gets the known ones with a unit; else the most similar one; else the list of known ones
    when it is short.

    Parameters
    ----------
    word : str
        What was written.
    known : iterable of str
        What would have been right.

    Returns
    -------
    str
        A question or list in plain words, empty when there is nothing to say.
    """
    names = sorted(known)
    in_capitals = next((name for name in names if name.casefold() == word.casefold()), word)
    if in_capitals != word:
        return f"capitals count: did you mean `{in_capitals}`?"
    with_unit = [name for name in names if _stem(name) == _stem(word) and name != word]
    if with_unit:
        quoted = " or ".join(f"`{name}`" for name in with_unit)
        if _stem(word) == word.casefold():
            return f"the unit belongs in the key: did you mean {quoted}?"
        return f"mind the unit: did you mean {quoted}?"
    close = difflib.get_close_matches(word, names, n=1, cutoff=0.6)
    if not close:
        close = [name for name in names if word.casefold() in name.split("_")][:1]
    if close:
        return f"did you mean `{close[0]}`?"
    if 0 < len(names) <= MAX_LISTED:
        return "known here: " + ", ".join(f"`{name}`" for name in names)
    return ""


def _stem(name: str) -> str:
    """Name without its unit."""
    head, _, tail = name.casefold().rpartition("_")
    return head if head and tail in _UNITS else name.casefold()

"""What holds for several runs of a day, told once with the runs that it holds for."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from simulator.fieldtest.testday import TestRun
from simulator.measures import Phrase

MOST_NAMED = 3
"""Files that one sentence names; behind them stands how many more there are."""

_SPAN = 3
"""So many numbers in a row are told as a span."""


def run_words(numbers: Iterable[int]) -> str:
    """Numbers of runs in words: ``run 3``, ``runs 2 and 4``, ``runs 1 to 10, 12 and 14``."""
    ordered = sorted(set(numbers))
    spans: list[list[int]] = []
    for number in ordered:
        if spans and number == spans[-1][-1] + 1:
            spans[-1].append(number)
        else:
            spans.append([number])
    told: list[str] = []
    for span in spans:
        told += [f"{span[0]} to {span[-1]}"] if len(span) >= _SPAN else map(str, span)
    listed = " and ".join(part for part in (", ".join(told[:-1]), told[-1]) if part)
    return f"run{'' if len(ordered) == 1 else 's'} {listed}"


def repairs_told_once(found: Iterable[tuple[TestRun, Sequence[str]]]) -> tuple[str, ...]:
    """What was mended in recordings, each kind once.

    Parameters
    ----------
    found : iterable of (TestRun, sequence of str)
        Recorded runs, each with what was mended in its recording.

    Returns
    -------
    tuple of str
        As in ``recordings of runs 1 to 4 (a.csv, b.csv and 2 more): distance was ...``.
    """
    told: dict[str, tuple[str, dict[int, str]]] = {}
    for run, texts in found:
        for text in texts:
            told.setdefault(str(text), (text, {}))[1][run.number] = run.written.recording or ""
    return tuple(
        Phrase(
            "recording{s} of {runs} ({files}): {text}",
            s="" if len(runs) == 1 else "s",
            runs=run_words(runs),
            files=_few(tuple(dict.fromkeys(runs.values()))),
            text=text,
        )
        for text, runs in told.values()
    )


def _few(names: Sequence[str]) -> str:
    """Names of files in a sentence, few enough to read."""
    shown = names if len(names) <= MOST_NAMED else names[: MOST_NAMED - 1]
    more = len(names) - len(shown)
    return ", ".join(shown) + (f" and {more} more" if more else "")

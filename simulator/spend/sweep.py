"""The sweep over all sets: walk, ride, keep the leaders."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterator, Sequence

import numpy as np

from simulator.spend.optimum import FloatArray, Leaders, no_leaders, with_sets
from simulator.spend.partsets import IntArray, SetBlock, even_blocks, set_blocks
from simulator.spend.rerides import FigureTables, Race, RideJob, Runner, mean_s, race_jobs

CHUNK = 8192
"""Sets that ride together."""


def find_leaders(
    tables: FigureTables,
    races: tuple[Race, ...],
    runner: Runner,
    budgets_cents: Sequence[int],
    *,
    chunk: int = CHUNK,
    progress: Callable[[int], None] | None = None,
) -> Leaders:
    """Ride every set that fits the largest budget and keep the best for each budget.

    Parameters
    ----------
    tables : FigureTables
        What the options do to the build.
    races : tuple of Race
        Where they ride.
    runner : Runner
        Who rides them.
    budgets_cents : sequence of int
        In hundredths.
    chunk : int
        Sets that ride together; it changes memory and speed, not the answer.
    progress : callable, optional
        Called with the number of sets done since the last call.

    Returns
    -------
    Leaders
        Exact: no set is left out but those dearer than the largest budget and those that do not
        go together.
    """
    on_the_way: deque[tuple[SetBlock, list[tuple[int, IntArray]]]] = deque()

    def jobs() -> Iterator[RideJob]:
        blocks = set_blocks(tables.menu, max(budgets_cents), block=chunk)
        for sets in even_blocks(blocks, chunk):
            pairs = race_jobs(tables, sets.choices, len(races))
            on_the_way.append((sets, [(job.i_race, rows) for job, rows in pairs]))
            for job, _ in pairs:
                yield job

    leaders = no_leaders(tables.menu.n_slots, budgets_cents)
    ridden = runner.times(jobs())
    for first_times_s in ridden:
        sets, parts = on_the_way.popleft()
        times_s: FloatArray = np.empty((len(races), len(sets)))
        for i, (i_race, rows) in enumerate(parts):
            times_s[i_race, rows] = first_times_s if i == 0 else next(ridden)
        leaders = with_sets(leaders, sets, mean_s(races, times_s))
        if progress is not None:
            progress(len(sets))
    return leaders

"""What a reader hands on: samples as they stand in a file, nothing mended."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime

import numpy as np

from simulator.errors import InputError
from simulator.recordings.recording import CHANNELS, FloatArray, Repair

MAX_SAMPLES = 1_000_000


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Samples:
    """Columns as read; `unix_s` is seconds since 1970 or since any start.

    ``start_time`` is set where the file tells the date.
    """

    kind: str
    unix_s: FloatArray
    columns: Mapping[str, FloatArray]
    has_date: bool
    notes: tuple[Repair, ...] = ()

    @property
    def start_time(self) -> str:
        """Date and time of the earliest sample, UTC; empty if the file has none."""
        known = self.unix_s[np.isfinite(self.unix_s)]
        if not self.has_date or not len(known):
            return ""
        return datetime.fromtimestamp(float(known.min()), tz=UTC).strftime("%Y-%m-%d %H:%M:%S")


def refuse_too_many(n_samples: int, file: str) -> None:
    """Complain as soon as a file holds more samples than a ride can have."""
    if n_samples > MAX_SAMPLES:
        raise InputError(
            file=file,
            found=f"more than {MAX_SAMPLES} samples",
            expected="a recording of one ride",
            mend="split the file",
        )


def samples_of_rows(
    kind: str,
    rows: Sequence[Mapping[str, float]],
    *,
    has_date: bool = True,
    notes: Sequence[Repair] = (),
) -> Samples:
    """Put rows (``time_s`` and any of the channels) into columns, NaN where a row lacks one."""
    missing = math.nan
    return Samples(
        kind=kind,
        unix_s=np.array([row.get("time_s", missing) for row in rows], dtype=np.float64),
        columns={
            name: np.array([row.get(name, missing) for row in rows], dtype=np.float64)
            for name in CHANNELS
        },
        has_date=has_date,
        notes=tuple(notes),
    )


def unix_of_text(text: str) -> float:
    """Seconds since 1970 of an ISO 8601 date and time; UTC when it names no zone; NaN if wrong."""
    try:
        when = datetime.fromisoformat(text.strip().replace("Z", "+00:00"))
    except ValueError:
        return math.nan
    if when.tzinfo is None:
        when = when.replace(tzinfo=UTC)
    return when.timestamp()

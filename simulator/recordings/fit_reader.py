"""FIT files -> samples, by a maintained decoder; what comes before an error is kept."""

from __future__ import annotations

import io
import math
from pathlib import Path
from typing import Any

from simulator.errors import InputError
from simulator.recordings.recording import Repair
from simulator.recordings.samples import Samples, samples_of_rows

_SEMICIRCLES = 180.0 / 2.0**31
"""Degrees in one unit of a FIT position."""

_FIELDS = {
    "position_lat": ("lats_deg", _SEMICIRCLES),
    "position_long": ("lons_deg", _SEMICIRCLES),
    "enhanced_altitude": ("heights_m", 1.0),
    "altitude": ("heights_m", 1.0),
    "distance": ("distances_m", 1.0),
    "enhanced_speed": ("speeds_mps", 1.0),
    "speed": ("speeds_mps", 1.0),
    "power": ("powers_w", 1.0),
    "cadence": ("cadences_rpm", 1.0),
    "temperature": ("temperatures_degc", 1.0),
}

_NOT_RIDDEN = ("virtual_activity", "indoor_cycling", "virtual", "spin")
"""Kinds of sport whose speed no road made."""

MAX_BYTES = 20_000_000
MAX_FRAMES = 500_000
"""Five days at one a second: the decoder takes about 50 µs for each."""

_CALIBRATION_EVENT = 36
"""Number of the event of a sensor's calibration in the FIT profile."""


def fit_samples(data: bytes, path: Path) -> Samples:
    """Read the records of a FIT file.

    Parameters
    ----------
    data : bytes
        The file.
    path : Path
        Its name, for messages.

    Raises
    ------
    InputError
        If it holds no record, or was not ridden on a road.

    Notes
    -----
    A field can appear twice in a record (the first value is the sensor's), a wrong check sum is
    told and not fatal, and an error behind good records ends the reading there.
    """
    import fitdecode

    if len(data) > MAX_BYTES:
        raise InputError(
            file=str(path),
            found=f"the FIT file is larger than {MAX_BYTES / 1e6:g} MB",
            expected="a recording of one ride",
        )
    rows: list[dict[str, float]] = []
    notes: list[Repair] = []
    zeros_s: list[float] = []
    try:
        with fitdecode.FitReader(
            io.BytesIO(data),
            check_crc=fitdecode.CrcCheck.WARN,
            error_handling=fitdecode.ErrorHandling.IGNORE,
        ) as reader:
            for n_frames, frame in enumerate(reader, start=1):
                if n_frames > MAX_FRAMES:
                    raise InputError(
                        file=str(path),
                        found=f"more than {MAX_FRAMES} messages",
                        expected="a recording of one ride",
                        mend="split the file",
                    )
                if not isinstance(frame, fitdecode.FitDataMessage):
                    continue
                if frame.name == "record":
                    rows.append(_row(frame))
                elif frame.name in ("sport", "session"):
                    _refuse_not_ridden(frame, path)
                elif frame.name == "event":
                    what = frame.get_value("event", fallback=None)
                    when = frame.get_value("timestamp", fallback=None)
                    if what in ("calibration", _CALIBRATION_EVENT) and hasattr(when, "timestamp"):
                        zeros_s.append(when.timestamp())
    except InputError:
        raise
    except Exception as error:  # the decoder raises many kinds; all mean a damaged file
        if not rows:
            raise InputError(
                file=str(path),
                found=f"the FIT file is damaged ({' '.join(str(error).split())[:80]})",
                mend="copy it from the device again",
            ) from None
        text = f"the file is damaged behind {len(rows)} samples; what stands before was kept"
        notes.append(Repair(kind="damaged", text=text))
    first_s = next((row["time_s"] for row in rows if "time_s" in row), 0.0)
    notes += [
        Repair(
            kind="meter zero",
            text="the device noted that the power meter's zero was set",
            start_s=at_s - first_s,
            end_s=at_s - first_s,
        )
        for at_s in zeros_s
    ]
    return samples_of_rows("fit", rows, notes=notes)


def _row(frame: Any) -> dict[str, float]:
    row: dict[str, float] = {}
    for field in frame.fields:
        value = field.value
        if field.name == "timestamp" and hasattr(value, "timestamp"):
            row.setdefault("time_s", value.timestamp())
        elif field.name in _FIELDS and isinstance(value, int | float) and math.isfinite(value):
            channel, unit = _FIELDS[field.name]
            row.setdefault(channel, float(value) * unit)
    return row


def _refuse_not_ridden(frame: Any, path: Path) -> None:
    for name in ("sub_sport", "sport"):
        if str(frame.get_value(name, fallback="")) in _NOT_RIDDEN:
            raise InputError(
                file=str(path),
                found="a ride indoors: a program worked out its speed",
                expected="a ride on a road",
            )

"""The type this room is about: what a device wrote down during a ride, mended, as frozen arrays."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

CHANNELS = (
    "lats_deg",
    "lons_deg",
    "heights_m",
    "distances_m",
    "speeds_mps",
    "powers_w",
    "cadences_rpm",
    "temperatures_degc",
)
"""Names of what is measured, one value a sample; NaN where nothing was."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Repair:
    """Something that was mended, left out or should be known.

    ``start_s`` and ``end_s`` are seconds since the first sample; None for the whole file.
    """

    kind: str
    text: str
    start_s: float | None = None
    end_s: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Recording:
    """One file of a device.

    Attributes
    ----------
    name, kind : str
        Name of the file; ``"fit"``, ``"gpx"``, ``"tcx"`` or ``"csv"``.
    start_time : str
        Date and time (UTC) of the first sample as text; empty if the file has none.
    times_s : (n,) array
        Seconds since the first sample, strictly ascending.
    lats_deg, lons_deg, heights_m, distances_m, speeds_mps, powers_w, cadences_rpm,
    temperatures_degc : (n,) arrays
        NaN where nothing was recorded. Distances never fall.
    speed_source : str
        ``"device"`` or ``"positions"`` (worked out here; too rough for a speed trace).
    rhythm : str
        ``"every second"``, ``"smart"`` (the device chose) or ``"every N s"``.
    repairs : tuple of Repair
    """

    name: str
    kind: str
    start_time: str
    times_s: FloatArray
    lats_deg: FloatArray
    lons_deg: FloatArray
    heights_m: FloatArray
    distances_m: FloatArray
    speeds_mps: FloatArray
    powers_w: FloatArray
    cadences_rpm: FloatArray
    temperatures_degc: FloatArray
    speed_source: str
    rhythm: str
    repairs: tuple[Repair, ...]

    def __post_init__(self) -> None:
        size = len(self.times_s)
        for name in ("times_s", *CHANNELS):
            values = np.array(getattr(self, name), dtype=np.float64, order="C")
            if values.shape != (size,):
                msg = f"{name} has shape {values.shape}, expected ({size},)"
                raise ValueError(msg)
            values.flags.writeable = False
            object.__setattr__(self, name, values)

    @property
    def n_samples(self) -> int:
        """Number of samples."""
        return len(self.times_s)

    @property
    def has_power(self) -> bool:
        """Whether any power was recorded."""
        return bool(np.isfinite(self.powers_w).any())

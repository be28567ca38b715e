"""What a file said itself and what was left to the defaults."""

from __future__ import annotations

from simulator.files import StrictSchema

_UNSAID = (
    *("name", "source", "price", "yaw", "positions", "caution"),
    *("cp_w", "wprime_kj", "max_power_w", "bottles_kg", "decline_after_h", "decline_per_log"),
    # Told by the level of caution, which is listed itself.
    *("lean_deg", "pedal_lean_deg", "braking_g"),
    *("start_clock", "wind_at", "gust_kmh"),
)
"""Keys that nothing stands in for, or that another key fills in."""


def source_text(written: StrictSchema, fallback: str) -> str:
    """The source of a rider, build or weather, with the keys that were left to the defaults.

    Parameters
    ----------
    written : StrictSchema
        Checked keys; one of them is ``source``.
    fallback : str
        Told when the file names no source.

    Returns
    -------
    str
        As in "own scales and field test; defaults for crr, grip_wet".
    """
    source = str(getattr(written, "source", "")) or fallback
    left = [
        name
        for name in type(written).model_fields
        if name not in written.model_fields_set and name not in _UNSAID
    ]
    if not left or not written.model_fields_set - {"source"}:
        return source
    told = "defaults for " + ", ".join(left)
    return f"{source}; {told}" if source else told

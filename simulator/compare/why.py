"""Why the gap arises: an order-free split over the causes in which two builds differ."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class CauseGap:
    """What one cause adds to the gap.

    ``cause`` is a value of ``setup.bike.CAUSE_OF_FIELD``; ``first_text`` and ``other_text``
    name what differs ("7.1 kg"). The gaps of all causes add up to the total exactly.
    """

    cause: str
    gap_s: float
    share: float
    first_text: str
    other_text: str

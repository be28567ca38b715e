"""A number that is known only so well."""

from __future__ import annotations

from dataclasses import dataclass

from simulator.files import ValueWithSd


@dataclass(frozen=True, slots=True)
class Uncertain:
    """A value with its standard uncertainty; ``sd = 0`` means "taken as exact".

    Both in the unit that the field's name states. What a draw from it looks like (a bell
    curve, or a skewed one for what cannot be negative) is decided in ``ride/draws.py``.
    """

    value: float
    sd: float = 0.0


def uncertain_of(written: ValueWithSd, factor: float = 1.0) -> Uncertain:
    """A number from a file, in the unit of the program.

    Parameters
    ----------
    written : ValueWithSd
        Value and standard uncertainty as written.
    factor : float
        Size of the unit written in the unit wanted; it scales both.
    """
    return Uncertain(written.value * factor, written.sd * factor)

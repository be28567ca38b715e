"""What the rider wants to push, by place: the table that the integrator follows."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from simulator.course import Course
from simulator.setup import Rider

COAST_FADE_GRADE = 0.01
"""Over the last percent of grade before the rider's coasting grade, power fades out."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Demand:
    """Power wanted at the pedals on each segment of a course, before any limit.

    Attributes
    ----------
    powers_w : (n,) array
        Power in W.
    text : str
        The rule in words, for the report.
    surge_w : float
        Power on top of it for `surge_s` seconds out of every corner.
    surge_s : float
        How long a surge lasts.
    """

    powers_w: NDArray[np.float64]
    text: str
    surge_w: float = 0.0
    surge_s: float = 0.0

    def __post_init__(self) -> None:
        powers_w = np.array(self.powers_w, dtype=np.float64, order="C")
        powers_w.flags.writeable = False
        object.__setattr__(self, "powers_w", powers_w)


def constant_demand(course: Course, rider: Rider, *, power_w: float | None = None) -> Demand:
    """Constant power, but coasting where the road falls more steeply than the rider pedals.

    Parameters
    ----------
    course : Course
        Where.
    rider : Rider
        Gives ``power_w`` unless it is passed, and ``coast_grade``.
    power_w : float, optional
        Power in W instead of the rider's.

    Returns
    -------
    Demand
        Full power down to one percent above the coasting grade, none below it, linear between,
        so that a hair of grade does not switch the whole power.
    """
    wanted_w = rider.power_w.value if power_w is None else power_w
    share = np.clip((course.grades - rider.coast_grade) / COAST_FADE_GRADE, 0.0, 1.0)
    text = (
        f"constant {wanted_w:.0f} W, coasting on descents steeper than "
        f"{abs(rider.coast_grade) * 100.0:.0f} %"
    )
    return Demand(powers_w=wanted_w * share, text=text)

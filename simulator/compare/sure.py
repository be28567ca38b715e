"""How sure the gap is: paired draws of everything that carries a standard uncertainty."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True, slots=True, kw_only=True)
class DoubtShare:
    """How much of the gap's variance one uncertain input brings."""

    name: str
    share: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Doubt:
    """The spread of the gap.

    ``low_s`` and ``high_s`` hold the middle 90 % of the draws, ``sd_s`` is their standard
    deviation, ``chance_first_faster`` the share of draws with a gap above zero.
    ``interval_error_s`` is the Monte-Carlo standard error of the interval's ends.
    """

    n_draws: int
    seed: int
    gaps_s: NDArray[np.float64]
    mean_s: float
    sd_s: float
    low_s: float
    high_s: float
    interval_error_s: float
    chance_first_faster: float
    shares: tuple[DoubtShare, ...]

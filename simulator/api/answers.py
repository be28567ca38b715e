"""What every answer can do: print itself, be drawn, be written; and the ride and the gap."""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, Self, cast

from simulator.api.given import AnyPath

if TYPE_CHECKING:
    import numpy as np
    from matplotlib.figure import Figure
    from numpy.typing import NDArray

    from simulator.compare import Comparison, StretchGap
    from simulator.measures import Measures
    from simulator.pacing import Demand
    from simulator.ride import Ride

    FloatArray = NDArray[np.float64]


class Answer(ABC):
    """The answer to a question.

    ``repr`` is one sentence, ``print`` shows the table of the terminal, `figure` draws, `save`
    writes page, pictures, CSV and JSON. ``units`` is ``"metric"`` or ``"imperial"``: how they are
    worded; attributes, CSV and JSON are SI.
    """

    units: str

    def in_units(self, units: str) -> Self:
        """The same answer, worded in other units.

        Parameters
        ----------
        units : str
            ``"metric"`` or ``"imperial"`` (miles, feet, mph, pounds, °F).

        Raises
        ------
        ValueError
            If it is neither.
        """
        from simulator.measures import BY_NAME

        if units not in BY_NAME:
            msg = f"units are {' or '.join(BY_NAME)}, not {units!r}"
            raise ValueError(msg)
        return cast("Self", replace(cast("Any", self), units=units))

    @property
    def _measures(self) -> Measures:
        from simulator.measures import BY_NAME

        return BY_NAME[self.units]

    @abstractmethod
    def _text(self, *, is_short: bool) -> str:
        """The table as in the terminal, or the sentence alone."""

    @abstractmethod
    def files(self) -> Mapping[str, bytes]:
        """Every file of the answer, by name: page, pictures, CSV and JSON."""

    @abstractmethod
    def figure(self) -> Figure:
        """The picture, as a matplotlib figure."""

    def save(self, folder: AnyPath, *, overwrite: bool = False) -> list[Path]:
        """Write page, pictures, CSV and JSON.

        Parameters
        ----------
        folder : str or path
            Made if it is not there.
        overwrite : bool
            Whether files that exist may be replaced.

        Returns
        -------
        list of Path
            What was written.

        Raises
        ------
        InputError
            If a file exists and `overwrite` is false (then nothing is written), or if the place
            cannot be written.
        """
        from simulator.files import write_files

        files = self.files()
        write_files(Path(folder), files, overwrite=overwrite)
        return [Path(folder) / name for name in files]

    def __repr__(self) -> str:
        return f"<{type(self).__name__}: {' '.join(self._text(is_short=True).split())}>"

    def __str__(self) -> str:
        return self._text(is_short=False).rstrip("\n")


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class RideAnswer(Answer):
    """One build over one course.

    Attributes
    ----------
    ride : Ride
        All of it: course, setup, times, speeds, powers, energies, ceilings, W′.
    demand : Demand
        The power that was wanted.
    """

    ride: Ride
    demand: Demand
    units: str = "metric"

    @property
    def time_s(self) -> float:
        """Time from start to finish, in s."""
        return self.ride.time_s

    @property
    def mean_power_w(self) -> float:
        """Mean power at the pedals, in W."""
        return self.ride.mean_power_w

    @property
    def distances_m(self) -> FloatArray:
        """Distance from the start at each node, in m; (n + 1,) array."""
        return self.ride.course.node_distances_m

    @property
    def heights_m(self) -> FloatArray:
        """Height above sea level at each node, in m; (n + 1,) array."""
        return self.ride.course.node_heights_m

    @property
    def times_s(self) -> FloatArray:
        """Time since the start at each node, in s; (n + 1,) array."""
        return self.ride.node_times_s

    @property
    def speeds_mps(self) -> FloatArray:
        """Speed at each node, in m/s; (n + 1,) array."""
        return self.ride.node_speeds_mps

    @property
    def powers_w(self) -> FloatArray:
        """Mean power at the pedals on each segment, in W; (n,) array."""
        return self.ride.powers_w

    @property
    def reserves_j(self) -> FloatArray | None:
        """W′ left at each node, in J; (n + 1,) array, or None without a critical power."""
        return self.ride.node_reserves_j

    @property
    def energies_j(self) -> dict[str, float]:
        """Work by cause over the whole ride, in J; the causes sum to the work at the pedals."""
        from simulator.ride import ENERGY_CAUSES

        sums_j = self.ride.energies_j.sum(axis=1)
        return {cause: float(sum_j) for cause, sum_j in zip(ENERGY_CAUSES, sums_j, strict=True)}

    def _text(self, *, is_short: bool) -> str:
        from simulator.report import make_ride_view, ride_text, short_ride_text

        view = make_ride_view(self.ride, self.demand, measures=self._measures)
        return short_ride_text(view) if is_short else ride_text(view)

    def files(self) -> Mapping[str, bytes]:
        """Page, picture, CSV and JSON, by name."""
        from simulator.report import ride_files

        return ride_files(self.ride, self.demand, measures=self._measures)

    def figure(self) -> Figure:
        """Profile, speed, power and W′ along the course."""
        from simulator.report import draw_ride, make_ride_view

        return draw_ride(make_ride_view(self.ride, self.demand, measures=self._measures))


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class GapAnswer(Answer):
    """What one build loses to another one; every gap is > 0 where `other` loses.

    Attributes
    ----------
    comparison : Comparison
        All of it: both rides, where, why and how sure.
    """

    comparison: Comparison
    units: str = "metric"

    @property
    def gap_s(self) -> float:
        """Time of the other build minus time of the first one, in s."""
        return self.comparison.gap.total_s

    @property
    def distances_m(self) -> FloatArray:
        """Distance from the start at each node, in m; (n + 1,) array."""
        return self.comparison.gap.first.course.node_distances_m

    @property
    def gaps_s(self) -> FloatArray:
        """Gap at each node, in s; (n + 1,) array."""
        return self.comparison.gap.node_gaps_s

    @property
    def first(self) -> Ride:
        """The ride of the first build."""
        return self.comparison.gap.first

    @property
    def other(self) -> Ride:
        """The ride of the other build."""
        return self.comparison.gap.other

    @property
    def causes_s(self) -> dict[str, float]:
        """Gap by cause, in s, the largest first; they sum to the gap exactly."""
        return {cause.cause: cause.gap_s for cause in self.comparison.causes}

    @property
    def stretches(self) -> tuple[StretchGap, ...]:
        """Climbs, descents and flats in order; their gaps sum to the gap."""
        return self.comparison.stretches

    @property
    def draws_s(self) -> FloatArray | None:
        """Gap in each paired draw, in s; (n_draws,) array, or None where all is exact."""
        doubt = self.comparison.doubt
        return None if doubt is None else doubt.gaps_s

    @property
    def interval_s(self) -> tuple[float, float] | None:
        """Ends of the interval that holds nine draws in ten, in s; None where all is exact."""
        doubt = self.comparison.doubt
        return None if doubt is None else (doubt.low_s, doubt.high_s)

    @property
    def chance_first_faster(self) -> float | None:
        """Share of the draws in which the first build is faster; None where all is exact."""
        doubt = self.comparison.doubt
        return None if doubt is None else doubt.chance_first_faster

    def _text(self, *, is_short: bool) -> str:
        from simulator.report import gap_text, make_gap_view, sentence_text

        view = make_gap_view(self.comparison, self._measures)
        return sentence_text(view) if is_short else gap_text(view)

    def files(self) -> Mapping[str, bytes]:
        """Page, pictures, CSV and JSON, by name."""
        from simulator.report import comparison_files

        return comparison_files(self.comparison, self._measures)

    def figure(self) -> Figure:
        """Profile, speed and cumulative gap along the course."""
        from simulator.report import draw_gap, make_gap_view

        return draw_gap(make_gap_view(self.comparison, self._measures))

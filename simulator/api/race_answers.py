"""Answers of spend, powerplan and bunch; what all answers can do is in ``answers``."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from simulator.api.answers import Answer

if TYPE_CHECKING:
    import numpy as np
    from matplotlib.figure import Figure
    from numpy.typing import NDArray

    from simulator.bunch import BunchRace
    from simulator.pacing import Pacing
    from simulator.powerplan import Day, Plan, Tryout
    from simulator.spend import Spending

    FloatArray = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class SpendAnswer(Answer):
    """What budgets buy.

    Attributes
    ----------
    spending : Spending
        All of it: the best set of each budget, its doubts and rivals, every part alone.
    """

    spending: Spending
    units: str = "metric"

    @property
    def gains_s(self) -> dict[float, float]:
        """Seconds that the best set gains, by budget; > 0 is faster."""
        return {answer.budget: answer.best.gain_s for answer in self.spending.budgets}

    @property
    def parts(self) -> dict[float, tuple[str, ...]]:
        """Names of the parts of the best set, by budget."""
        return {
            answer.budget: tuple(part.name for part in answer.best.parts)
            for answer in self.spending.budgets
        }

    @property
    def frontier_prices(self) -> FloatArray:
        """Price of each set than which none is both faster and no dearer; (k,) array."""
        import numpy as np

        return np.array([part_set.price for part_set in self.spending.frontier])

    @property
    def frontier_gains_s(self) -> FloatArray:
        """Seconds that each of these sets gains; (k,) array."""
        import numpy as np

        return np.array([part_set.gain_s for part_set in self.spending.frontier])

    @property
    def _view(self) -> Any:
        from simulator.report import make_spend_view

        return make_spend_view(self.spending, measures=self._measures)

    def _text(self, *, is_short: bool) -> str:
        from simulator.report import spend_text

        return spend_text(self._view, is_short=is_short)

    def files(self) -> Mapping[str, bytes]:
        """Page, picture, shopping list (CSV) and JSON, by name."""
        from simulator.report import spend_files

        return spend_files(self._view)

    def figure(self) -> Figure:
        """Seconds gained over the sum spent."""
        from simulator.report import draw_spend

        return draw_spend(self._view)


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class TryoutAnswer(Answer):
    """Pacings side by side.

    Attributes
    ----------
    tryout : Tryout
        All of it: each pacing's ride, W′, whether it can be done, a weak day.
    """

    tryout: Tryout
    units: str = "metric"

    @property
    def times_s(self) -> dict[str, float | None]:
        """Time of each pacing, in s; None where the rider does not reach the finish."""
        return {
            attempt.name: None if attempt.ride is None else attempt.ride.time_s
            for attempt in self.tryout.attempts
        }

    @property
    def _view(self) -> Any:
        from simulator.report import make_tryout_view

        return make_tryout_view(self.tryout, self._measures)

    def _text(self, *, is_short: bool) -> str:
        from simulator.report import tryout_text

        return tryout_text(self._view, is_short=is_short)

    def files(self) -> Mapping[str, bytes]:
        """Page and JSON, by name."""
        from simulator.report import tryout_files

        return tryout_files(self._view)

    def figure(self) -> Figure:
        """Not drawn.

        Raises
        ------
        NotImplementedError
            Always: `print` shows the tables, `save` the page.
        """
        msg = "pacings side by side are a table: print the answer, or save its page"
        raise NotImplementedError(msg)


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class PlanAnswer(Answer):
    """The quickest plan for a course.

    Attributes
    ----------
    days : tuple of Day
        One for each weather; the first one's plan is the plan.
    """

    days: tuple[Day, ...]
    units: str = "metric"

    @property
    def plan(self) -> Plan:
        """Stretches, levels and ride of the plan."""
        return self.days[0].plan

    @property
    def pacing(self) -> Pacing:
        """The plan as a pacing, for `ride_build` and `compare_builds`."""
        return self.plan.pacing

    @property
    def time_s(self) -> float:
        """Time of the plan, in s."""
        return self.plan.time_s

    @property
    def saved_s(self) -> float:
        """Time saved against the best constant power, in s."""
        return self.plan.saved_s

    @property
    def distances_m(self) -> FloatArray:
        """Distance from the start at each node, in m; (n + 1,) array."""
        return self.plan.ride.course.node_distances_m

    @property
    def powers_w(self) -> FloatArray:
        """Power that the plan rides on each segment, in W; (n,) array."""
        return self.plan.ride.powers_w

    @property
    def quickest_w(self) -> FloatArray:
        """The quickest power, before it is simplified to a few levels, in W; (n,) array."""
        return self.days[0].solution.powers_w

    @property
    def _view(self) -> Any:
        from simulator.report import make_powerplan_view

        return make_powerplan_view(self.days, self._measures)

    def _text(self, *, is_short: bool) -> str:
        from simulator.report import powerplan_text

        return powerplan_text(self._view, is_short=is_short)

    def files(self) -> Mapping[str, bytes]:
        """Page, picture, pacing file, JSON and cards, by name."""
        from simulator.report import powerplan_files

        return powerplan_files(self.days, self._measures)

    def figure(self) -> Figure:
        """Profile, power and W′ along the course."""
        from simulator.report import draw_powerplan

        return draw_powerplan(self._view)


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class BunchAnswer(Answer):
    """What it costs each build to stay in the bunch.

    Attributes
    ----------
    race : BunchRace
        All of it: the bunch's ride, and for each build laps, corners, climbs, breaks, sprint.
    """

    race: BunchRace
    units: str = "metric"

    @property
    def mean_w(self) -> dict[str, float]:
        """Mean power that holding the wheel needs, in W, by build."""
        return {build.setup.build.name: build.mean_w for build in self.race.builds}

    @property
    def chance_lost(self) -> dict[str, float | None]:
        """Chance of losing contact, by build; None without draws or critical power."""
        return {build.setup.build.name: build.chance_lost for build in self.race.builds}

    @property
    def distances_m(self) -> FloatArray:
        """Distance from the start at each node, in m; (n + 1,) array."""
        return self.race.course.node_distances_m

    def needed_w(self, name: str) -> FloatArray:
        """Power that one build needs on each segment, in W; (n,) array.

        Parameters
        ----------
        name : str
            Name of the build.

        Raises
        ------
        KeyError
            If there is none of that name.
        """
        return {b.setup.build.name: b.following.needed_w for b in self.race.builds}[name]

    @property
    def _view(self) -> Any:
        from simulator.report import make_bunch_view

        return make_bunch_view(self.race, self._measures)

    def _text(self, *, is_short: bool) -> str:
        from simulator.report import bunch_text

        return bunch_text(self._view, is_short=is_short)

    def files(self) -> Mapping[str, bytes]:
        """Page, picture and JSON, by name."""
        from simulator.report import bunch_files

        return bunch_files(self._view)

    def figure(self) -> Figure:
        """Power needed, lap by lap or along the course."""
        from simulator.report import draw_bunch

        return draw_bunch(self._view)

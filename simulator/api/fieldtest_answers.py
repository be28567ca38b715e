"""Answers of a field test; what all answers can do is in ``answers``."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from simulator.api.answers import Answer

if TYPE_CHECKING:
    import numpy as np
    from matplotlib.figure import Figure
    from numpy.typing import NDArray

    from simulator.fieldtest import Outcome, RunPlan, Verdict
    from simulator.setup import Build, Uncertain

    FloatArray = NDArray[np.float64]


class _FieldtestAnswer(Answer):
    """What the three answers of a field test share."""

    @property
    def _view(self) -> Any:
        raise NotImplementedError

    @property
    def _builds(self) -> Mapping[str, str]:
        return {}

    def _text(self, *, is_short: bool) -> str:
        from simulator.report import answer_text

        return answer_text(self._view, is_short=is_short)

    def files(self) -> Mapping[str, bytes]:
        """Page, picture and JSON, by name; of a fit also a file for each build."""
        from simulator.report import fieldtest_files

        return fieldtest_files(self._view, self._builds)

    def figure(self) -> Figure:
        """The picture of the answer."""
        from simulator.report import draw_answer

        return draw_answer(self._view)


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class FitAnswer(_FieldtestAnswer):
    """CdA and Crr of each build of a test day.

    Attributes
    ----------
    outcome : Outcome
        All of it: figures, differences, runs, doubts, and the fit with its covariance.
    """

    outcome: Outcome
    units: str = "metric"

    @property
    def cda_m2(self) -> dict[str, Uncertain]:
        """Drag area of each build with its standard uncertainty, in m²."""
        return {figures.tested.name: figures.cda_m2 for figures in self.outcome.builds}

    @property
    def crr(self) -> dict[str, Uncertain]:
        """Rolling coefficient of each build with its standard uncertainty."""
        return {figures.tested.name: figures.crr for figures in self.outcome.builds}

    @property
    def builds(self) -> dict[str, Build]:
        """Each build as the test has it, ready for `compare_builds`."""
        import tomllib

        from simulator.fieldtest import build_toml
        from simulator.setup import build_from_keys

        return {
            figures.tested.name: build_from_keys(tomllib.loads(build_toml(self.outcome, figures)))
            for figures in self.outcome.builds
        }

    @property
    def _builds(self) -> Mapping[str, str]:
        from simulator.fieldtest import build_texts

        return build_texts(self.outcome)

    @property
    def _view(self) -> Any:
        from simulator.report import make_outcome_view

        return make_outcome_view(self.outcome, self._measures)


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class VerdictAnswer(_FieldtestAnswer):
    """Whether observed times are what the builds' differences predict.

    Attributes
    ----------
    verdict : Verdict
        All of it: each climb, and explanations by how far one must stretch.
    """

    verdict: Verdict
    units: str = "metric"

    @property
    def is_expected(self) -> bool:
        """Whether every gap is one of the nine in ten to be expected."""
        return self.verdict.is_expected

    @property
    def observed_s(self) -> FloatArray:
        """Observed gap on each stretch, other minus first, in s; (n_stretches,) array."""
        import numpy as np

        return np.array([climb.observed.value for climb in self.verdict.climbs])

    @property
    def predicted_s(self) -> FloatArray:
        """Predicted gap on each stretch, in s; (n_stretches,) array."""
        import numpy as np

        return np.array([climb.predicted.value for climb in self.verdict.climbs])

    @property
    def _view(self) -> Any:
        from simulator.report import make_verdict_view

        return make_verdict_view(self.verdict, self._measures)


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class RunsAnswer(_FieldtestAnswer):
    """How many runs of which kind tell two builds apart.

    Attributes
    ----------
    plan : RunPlan
        All of it: each kind of run, mixes of them, what a drift does to an order.
    """

    plan: RunPlan
    units: str = "metric"

    @property
    def runs_for_cda(self) -> dict[str, int | None]:
        """Runs of both builds together that find the difference in CdA, by mix of kinds.

        None where not even the most that are thinkable would do.
        """
        return {" + ".join(plan.options): plan.cda_runs for plan in self.plan.plans}

    @property
    def runs_for_crr(self) -> dict[str, int | None]:
        """As `runs_for_cda`, for the difference in Crr."""
        return {" + ".join(plan.options): plan.crr_runs for plan in self.plan.plans}

    @property
    def runs_for_both(self) -> dict[str, int | None]:
        """As `runs_for_cda`, for both differences."""
        return {" + ".join(plan.options): plan.both_runs for plan in self.plan.plans}

    @property
    def _view(self) -> Any:
        from simulator.report import make_plan_view

        return make_plan_view(self.plan, self._measures)

"""Answers of ``compare`` beyond two builds: line-ups, several races, a recorded ride."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from simulator.api.answers import Answer, GapAnswer

if TYPE_CHECKING:
    import numpy as np
    from matplotlib.figure import Figure
    from numpy.typing import NDArray

    from simulator.compare import Comparison, RaceTable, Review, Suspect

    FloatArray = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class LineupAnswer(Answer):
    """Many builds against the first one.

    Attributes
    ----------
    gaps : tuple of GapAnswer
        One for each build after the first, in the order given.
    """

    gaps: tuple[GapAnswer, ...]
    units: str = "metric"

    @property
    def gaps_s(self) -> dict[str, float]:
        """Gap of each build to the first one, in s."""
        return {gap.other.setup.build.name: gap.gap_s for gap in self.gaps}

    @property
    def _comparisons(self) -> Sequence[Comparison]:
        return [gap.comparison for gap in self.gaps]

    @property
    def _folders(self) -> Sequence[str]:
        from simulator.report import folder_names

        return folder_names([gap.other.setup.build.name for gap in self.gaps])

    @property
    def _view(self) -> Any:
        from simulator.report import make_lineup_view

        return make_lineup_view(self._comparisons, folders=self._folders, measures=self._measures)

    def _text(self, *, is_short: bool) -> str:
        from simulator.report import lineup_text

        return lineup_text(self._view, is_short=is_short)

    def files(self) -> Mapping[str, bytes]:
        """Page, picture and JSON, and a folder for each build, by name."""
        from simulator.report import lineup_files

        return lineup_files(self._view, self._comparisons, self._folders)

    def figure(self) -> Figure:
        """Gap of every build with its interval."""
        from simulator.report import draw_lineup

        return draw_lineup(self._view)


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class RacesAnswer(Answer):
    """Every build in every race, and in all of them.

    Attributes
    ----------
    table : RaceTable
        All of it: times, gaps, their spread over draws, totals.
    """

    table: RaceTable
    units: str = "metric"

    @property
    def races(self) -> tuple[str, ...]:
        """Names of the races, in the order of the rows of `gaps_s`."""
        return tuple(race.name for race in self.table.races)

    @property
    def builds(self) -> tuple[str, ...]:
        """Names of the builds after the first, in the order of the columns of `gaps_s`."""
        return tuple(build.name for build in self.table.builds[1:])

    @property
    def gaps_s(self) -> FloatArray:
        """Gap of each build to the first one in each race, in s; (n_races, n_builds) array."""
        import numpy as np

        return np.array([[gap.gap_s for gap in row] for row in self.table.gaps])

    @property
    def totals_s(self) -> dict[str, float]:
        """Gap of each build over all races, in s."""
        totals = (gap.gap_s for gap in self.table.totals)
        return dict(zip(self.builds, totals, strict=True))

    @property
    def _view(self) -> Any:
        from simulator.report import make_races_view

        return make_races_view(self.table, self._measures)

    def _text(self, *, is_short: bool) -> str:
        from simulator.report import races_text

        return races_text(self._view, is_short=is_short)

    def files(self) -> Mapping[str, bytes]:
        """Page, picture, CSV and JSON, by name."""
        from simulator.report import races_files

        return races_files(self._view)

    def figure(self) -> Figure:
        """Gaps of every build in every race, with their intervals."""
        from simulator.report import draw_races

        return draw_races(self._view)


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class ReviewAnswer(Answer):
    """A recorded ride beside the predicted one at the same power.

    Attributes
    ----------
    review : Review
        All of it: both rides, stretches, corners, stops, braking, what to doubt.
    """

    review: Review
    units: str = "metric"

    @property
    def gap_s(self) -> float:
        """Recorded time, without stops, minus predicted time, in s."""
        return self.review.gap.total_s

    @property
    def distances_m(self) -> FloatArray:
        """Distance from the start at each node, in m; (n + 1,) array."""
        return self.review.gap.first.course.node_distances_m

    @property
    def gaps_s(self) -> FloatArray:
        """Gap at each node, in s; (n + 1,) array."""
        return self.review.gap.node_gaps_s

    @property
    def suspects(self) -> tuple[Suspect, ...]:
        """What to doubt, the likeliest first, and how large each doubt would have to be."""
        return self.review.suspects

    @property
    def _view(self) -> Any:
        from simulator.report import make_review_view

        return make_review_view(self.review, self._measures)

    def _text(self, *, is_short: bool) -> str:
        from simulator.report import review_text, short_review_text

        return short_review_text(self._view) if is_short else review_text(self._view)

    def files(self) -> Mapping[str, bytes]:
        """Page, picture, CSV and JSON, by name."""
        from simulator.report import review_files

        return review_files(self.review, self._measures)

    def figure(self) -> Figure:
        """Profile, speeds and the gap along the course."""
        from simulator.report import draw_gap

        return draw_gap(self._view.along)

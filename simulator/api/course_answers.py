"""The answer of ``course check``: how far a course can be trusted, and where to look."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from simulator.api.answers import Answer

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from simulator.course import Course, CourseQuality


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class CourseAnswer(Answer):
    """What a track became.

    Attributes
    ----------
    course : Course
        Its arrays, corners, features and findings.
    """

    course: Course
    units: str = "metric"

    @property
    def quality(self) -> CourseQuality:
        """Length, rises of 2 m and more, steepest grades, noise of heights, places (SI)."""
        from simulator.course import quality_of

        return quality_of(self.course)

    @property
    def findings(self) -> tuple[str, ...]:
        """What should be known about the data, in sentences."""
        return tuple(finding.text for finding in self.course.findings)

    @property
    def _view(self) -> Any:
        from simulator.report import make_course_view

        return make_course_view(self.course, measures=self._measures)

    def _text(self, *, is_short: bool) -> str:
        from simulator.report import course_text

        return repr(self.course).strip("<>") if is_short else course_text(self._view)

    def files(self) -> Mapping[str, bytes]:
        """The smooth course as GPX and CSV, what was found as JSON, and its picture, by name."""
        from simulator.course import course_csv, course_gpx
        from simulator.report import course_json, picture_bytes

        texts = {
            "course.gpx": course_gpx(self.course),
            "course.csv": course_csv(self.course),
            "course.json": course_json(self._view),
        }
        figure = self.figure()
        return {
            **{name: text.encode("utf-8") for name, text in texts.items()},
            **{f"course.{kind}": picture_bytes(figure, kind) for kind in ("png", "svg")},
        }

    def figure(self) -> Figure:
        """Plan and profile."""
        from simulator.report import draw_course

        return draw_course(self._view)

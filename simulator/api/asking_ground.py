"""The questions before a race: what a track became, the usual air of a place; see ``asking``."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from simulator.api.course_answers import CourseAnswer
from simulator.api.given import AnyPath
from simulator.api.taken import CourseLike, course_of

if TYPE_CHECKING:
    from simulator.setup import Weather


def check_course(course: CourseLike) -> CourseAnswer:
    """Say how far a course can be trusted, and where to look.

    Parameters
    ----------
    course : Course or path
        Where.

    Returns
    -------
    CourseAnswer
        ``quality`` in figures, ``findings`` in sentences; ``figure()`` draws plan and profile.

    Raises
    ------
    InputError
        If a file cannot be used.

    Examples
    --------
    >>> from simulator import example_path
    >>> checked = check_course(example_path("courses/steady-climb"))
    >>> round(checked.quality.max_grade_50m, 2), checked.findings
    (0.08, ())
    """
    return CourseAnswer(course=course_of(course))


def usual_weather(path: AnyPath, *, month: int, hour: int) -> Weather:
    """The usual air of a month and hour, for a race too far off for a forecast.

    Parameters
    ----------
    path : str or path
        Typical-year file, EPW [EPW2015] or TMY3 [Wilcox2008].
    month, hour : int
        1 to 12; 0 to 23, local standard time.

    Returns
    -------
    Weather
        Means, with the spread from day to day as standard uncertainties.

    Raises
    ------
    InputError
        If the file is of another kind, damaged, or holds too few days of that month and hour.
    """
    import tomllib

    from simulator.setup import read_usual_hour, usual_weather_toml, weather_from_keys

    usual = read_usual_hour(Path(path), month=month, hour=hour)
    return weather_from_keys(tomllib.loads(usual_weather_toml(usual)))

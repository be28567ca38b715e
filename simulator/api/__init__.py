"""The notebook door: the same jobs as the command line, as functions that give arrays.

May import everything but ``cli``. Start reading at ``asking.py`` (the questions), then
``given.py`` (what is given to them) and ``answers.py`` (what comes back). Rooms are imported
inside the functions, so that nothing heavy is loaded before a question is asked. Everything
here is to be imported from ``simulator`` itself.
"""

from simulator.api.answers import Answer, GapAnswer, RideAnswer
from simulator.api.asking import (
    compare_builds,
    compare_many,
    compare_races,
    review_ride,
    ride_build,
)
from simulator.api.asking_fieldtest import infer_fieldtest, judge_fieldtest, plan_runs
from simulator.api.asking_ground import check_course, usual_weather
from simulator.api.asking_spend import spend_budget
from simulator.api.asking_tactics import ride_bunch, solve_powerplan, try_pacings
from simulator.api.compare_answers import LineupAnswer, RacesAnswer, ReviewAnswer
from simulator.api.course_answers import CourseAnswer
from simulator.api.fieldtest_answers import FitAnswer, RunsAnswer, VerdictAnswer
from simulator.api.given import (
    example_path,
    load_build,
    load_bunch,
    load_course,
    load_pacing,
    load_rider,
    load_weather,
    make_build,
    make_bunch,
    make_course,
    make_pacing,
    make_rider,
    make_weather,
)
from simulator.api.race_answers import BunchAnswer, PlanAnswer, SpendAnswer, TryoutAnswer

__all__ = [
    "Answer",
    "BunchAnswer",
    "CourseAnswer",
    "FitAnswer",
    "GapAnswer",
    "LineupAnswer",
    "PlanAnswer",
    "RacesAnswer",
    "ReviewAnswer",
    "RideAnswer",
    "RunsAnswer",
    "SpendAnswer",
    "TryoutAnswer",
    "VerdictAnswer",
    "check_course",
    "compare_builds",
    "compare_many",
    "compare_races",
    "example_path",
    "infer_fieldtest",
    "judge_fieldtest",
    "load_build",
    "load_bunch",
    "load_course",
    "load_pacing",
    "load_rider",
    "load_weather",
    "make_build",
    "make_bunch",
    "make_course",
    "make_pacing",
    "make_rider",
    "make_weather",
    "plan_runs",
    "review_ride",
    "ride_build",
    "ride_bunch",
    "solve_powerplan",
    "spend_budget",
    "try_pacings",
    "usual_weather",
]

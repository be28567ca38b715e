"""Views of a race in the bunch, of a plan for two days and of field tests, made for pictures."""

from dataclasses import replace
from pathlib import Path

from simulator.bunch import load_bunch, ride_bunch
from simulator.compare import race_table, races_of
from simulator.fieldtest import infer_day, judge_file, load_testday, plan_file
from simulator.pacing import constant_demand
from simulator.powerplan import plan_days
from simulator.report import (
    answer_page,
    bunch_page,
    make_bunch_view,
    make_outcome_view,
    make_plan_view,
    make_powerplan_view,
    make_races_view,
    make_verdict_view,
    powerplan_page,
    races_page,
)
from simulator.report.bunch_figure import draw_bunch_narrow
from simulator.report.fieldtest_figure import draw_answer_narrow
from simulator.report.powerplan_figure import draw_powerplan_narrow
from simulator.report.races_output import draw_races_narrow
from simulator.setup import Uncertain

EXAMPLES = Path(__file__).parents[2] / "configs" / "fieldtest"
LONG_NAME = "Plover with the deep wheels of a friend from the next valley"


def bunch_race(course, setup):
    """Two builds, one of them with a long name, which cannot hold the wheel."""
    rider = replace(setup.rider, cp_w=215.0, wprime_j=9_000.0, max_power_w=900.0)
    light = replace(setup, rider=rider)
    build = replace(light.build, name=LONG_NAME, cda_m2=Uncertain(0.36))
    reference = replace(setup, rider=replace(setup.rider, cp_w=None, wprime_j=None))
    return ride_bunch(
        course=course, setups=[light, replace(light, build=build)], reference=reference,
        demand=constant_demand(course, reference.rider, power_w=330.0),
        rules=replace(load_bunch(None), place=6.0), n_draws=0,
    )  # fmt: skip


def planned(course, setup):
    """A plan for two days."""
    rider = replace(setup.rider, cp_w=240.0, wprime_j=15_000.0, max_power_w=900.0)
    windy = replace(setup.weather, name="A gale that nobody saw coming", wind_mps=Uncertain(9.0))
    return plan_days(
        course=course, setup=replace(setup, rider=rider), weathers=[setup.weather, windy],
        most_changes=3,
    )  # fmt: skip


def raced(course, setup):
    """Three builds on two courses in two weathers, with long names."""
    windy = replace(setup.weather, name="A gale that nobody saw coming", wind_mps=Uncertain(9.0))
    long = replace(course, name="Round the whole of the Isle of Varrow and back")
    doubtful = replace(setup.build, name=LONG_NAME, cda_m2=Uncertain(0.36, 0.01))
    return race_table(
        races_of([course, long], [setup.weather, windy], rider=setup.rider),
        rider=setup.rider,
        builds=[setup.build, doubtful, replace(setup.build, name="Twin", crr=Uncertain(0.005))],
        n_draws=20,
    )


def answers(course, setup):
    """What is worked out once, whatever the units: name -> (answer, view, picture, page)."""
    return {
        "bunch": (bunch_race(course, setup), make_bunch_view, draw_bunch_narrow, bunch_page),
        "powerplan": (
            planned(course, setup), make_powerplan_view, draw_powerplan_narrow, powerplan_page,
        ),
        "races": (raced(course, setup), make_races_view, draw_races_narrow, races_page),
        "infer": (
            infer_day(load_testday(EXAMPLES / "testday.toml")), make_outcome_view,
            draw_answer_narrow, answer_page,
        ),
        "verdict": (
            judge_file(EXAMPLES / "two-climbs.toml"), make_verdict_view, draw_answer_narrow,
            answer_page,
        ),
        "runs": (
            plan_file(EXAMPLES / "runs.toml"), make_plan_view, draw_answer_narrow, answer_page,
        ),
    }  # fmt: skip


def pictured(worked_out, measures):
    """Name -> (narrow picture, page); the wide picture of a page is a stand-in."""
    shown = {}
    for name, (answer, make_view, draw, page) in worked_out.items():
        view = make_view(answer, measures)
        shown[name] = (draw(view), page(view, b"wide"))
    return shown

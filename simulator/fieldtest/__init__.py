"""The field test room: recorded runs of some builds -> drag and rolling figures, and a verdict.

May import ``ride``, ``recordings`` and below. Start reading at ``testday.py`` (what people
write), then ``legs.py`` (a run as something to ride), ``infer.py``, ``verdict.py`` and
``runplan.py``.
"""

from simulator.fieldtest.buildtext import build_file_names, build_texts, build_toml
from simulator.fieldtest.outcome import (
    HARDLY_TOLD,
    BuildFigures,
    Difference,
    HeldOut,
    HeldOutPart,
    Outcome,
    RunOutcome,
    infer_day,
)
from simulator.fieldtest.questions import CAUTIONS
from simulator.fieldtest.runplan import OptionAnswer, OrderBias, Plan, RunPlan, plan_file
from simulator.fieldtest.runplan_file import RunPlanFile
from simulator.fieldtest.testday import TestDay, load_testday
from simulator.fieldtest.testday_file import TestDayFile
from simulator.fieldtest.toldonce import repairs_told_once
from simulator.fieldtest.verdict import (
    ClimbGap,
    Explanation,
    Need,
    NextRun,
    Verdict,
    judge_file,
)
from simulator.fieldtest.verdict_file import VerdictFile

__all__ = [
    "CAUTIONS",
    "HARDLY_TOLD",
    "BuildFigures",
    "ClimbGap",
    "Difference",
    "Explanation",
    "HeldOut",
    "HeldOutPart",
    "Need",
    "NextRun",
    "OptionAnswer",
    "OrderBias",
    "Outcome",
    "Plan",
    "RunOutcome",
    "RunPlan",
    "RunPlanFile",
    "TestDay",
    "TestDayFile",
    "Verdict",
    "VerdictFile",
    "build_file_names",
    "build_texts",
    "build_toml",
    "infer_day",
    "judge_file",
    "load_testday",
    "plan_file",
    "repairs_told_once",
]

"""The headline of a test day: what the runs tell, what they leave open, and what would tell it."""

from __future__ import annotations

from simulator.fieldtest import HARDLY_TOLD, BuildFigures, Outcome
from simulator.report.fieldtest_view import give_or_take
from simulator.setup import Uncertain

_FORMS = {"CdA": ("cda", " m²", 3), "Crr": ("crr", "", 4)}
"""Name -> its role, unit and decimals."""

_UPHILL = 0.02
"""Grade from which gravity takes most of the power."""

_ONE_SPEED = 1.25
"""Runs whose fastest is not this many times as fast as the slowest tell one speed."""


def headline(outcome: Outcome) -> str:
    """The answer in one or a few sentences."""
    told = _differences(outcome) if outcome.differences else _figures(outcome.builds[0])
    return " ".join((*told, *_left_open(outcome)))


def _quantity(build: BuildFigures, name: str) -> Uncertain:
    return build.cda_m2 if name == "CdA" else build.crr


def _figures(build: BuildFigures) -> list[str]:
    kept = [
        f"a {name} of {give_or_take(quantity.value, quantity.sd, decimals)}{unit}"
        for name, (_, unit, decimals) in _FORMS.items()
        if name not in build.hardly_told
        for quantity in (_quantity(build, name),)
    ]
    return [f"{build.tested.name} has {' and '.join(kept)}."] if kept else []


def _differences(outcome: Outcome) -> list[str]:
    parts = []
    for difference in outcome.differences:
        told_parts = []
        for name, quantity in (("CdA", difference.cda_m2), ("Crr", difference.crr)):
            if quantity.sd == 0.0:  # the swap cannot have changed it
                continue
            _, unit, decimals = _FORMS[name]
            size = give_or_take(abs(quantity.value), quantity.sd, decimals)
            way = "more" if quantity.value > 0.0 else "less"
            sure = "" if abs(quantity.value) > 2.0 * quantity.sd else " (not told apart)"
            told_parts.append(f"{size}{unit} {way} {name}{sure}")
        told_text = " and ".join(told_parts) or "the same CdA and Crr, as stated,"
        parts.append(f"{difference.other} has {told_text} than {difference.first}")
    return ["; ".join(parts) + "."]


def _left_open(outcome: Outcome) -> list[str]:
    """What the runs say next to nothing about, and what to add; nothing where they tell all."""
    apart: dict[str, float] = {}
    for difference in outcome.differences:
        for name, quantity in (("CdA", difference.cda_m2), ("Crr", difference.crr)):
            if quantity.sd > HARDLY_TOLD[_FORMS[name][0]]:
                apart[name] = max(apart.get(name, 0.0), quantity.sd)
    alone = {
        name: max(
            _quantity(build, name).sd for build in outcome.builds if name in build.hardly_told
        )
        for name in _FORMS
        if any(name in build.hardly_told for build in outcome.builds)
    }
    wide = apart or alone
    if not wide:
        return []
    names = " and ".join(
        f"{name} (± {sd:.{_FORMS[name][2]}f}{_FORMS[name][1]})" for name, sd in wide.items()
    )
    if apart:
        what = f"These runs say hardly more about the difference in {names} than a guess does."
    elif outcome.differences:
        what = f"What {names} a build has by itself stays open; only the difference is told."
    else:
        whose = f"{outcome.builds[0].tested.name}'s"
        what = f"These runs say hardly more about {whose} {names} than a guess does."
    return [what, _to_add(outcome)]


def _to_add(outcome: Outcome) -> str:
    """The kinds of run that are missing."""
    runs = outcome.day.runs
    pedalled = [run for run in runs if run.is_powered]
    adds = []
    if len(pedalled) == len(runs):
        adds.append("unpowered runs of known mass (roll-downs, coasting)")
    grades = [run.road.mean_grade * (-1.0 if run.written.back else 1.0) for run in pedalled]
    if grades and min(grades) > _UPHILL:
        adds.append("flat runs both ways")
    elif grades and max(grades) < _UPHILL:
        adds.append("a climb")
    speeds = [
        leg.length_m / leg.times_s[-1]
        for leg in outcome.fit.problem.legs
        if leg.run.is_powered and len(leg.times_s)
    ]
    if speeds and max(speeds) < _ONE_SPEED * min(speeds):
        adds.append("runs at a clearly higher speed")
    listed = ", ".join(adds[:-1]) + (" and " if len(adds) > 1 else "") + "".join(adds[-1:])
    text = f"Add {listed or 'more of each kind of run'}."
    if any(run.written.recording and run.written.kind in ("climb", "flat") for run in runs):
        text += (
            " Where the grade of a recorded run changes on the way, the kind `free` tells more: it "
            "looks at each piece of the way, not at the whole alone."
        )
    return text

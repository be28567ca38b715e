"""What makes a test day's comparison doubtful, told before any figure is believed."""

from __future__ import annotations

from collections.abc import Iterable

from simulator.fieldtest.legs import RunReading
from simulator.fieldtest.testday import TestDay, TestRun
from simulator.fieldtest.toldonce import run_words
from simulator.measures import Measures, Phrase, amount, joined, stopwatch
from simulator.recordings import Pass

NOTED = {
    "tyres": "tyres",
    "tyre_pressure_bar": "pressure",
    "clothing": "clothing",
    "position": "position",
}
"""Key of a run -> word with which a difference is declared."""

CAUTIONS = (
    "Roll-downs only where nobody else is: no traffic, no crossing, a clear run-out, somebody at "
    "each end, brakes checked. Never coast faster than you would anyway.",
    "Timed runs on open roads follow the rules of the road; stop for traffic and throw the run "
    "away. A closed road is better.",
    "Set the power meter's zero in the same way before every run, above all after moving it from "
    "one bike to the other.",
)
"""Told with every test, in files, pages and terminal."""

METER_CAUTION = (
    "No run was unpowered: a power meter that reads a few percent high cannot be told from more "
    "CdA, Crr and mass together. Only unpowered runs of known mass settle the absolute figures; "
    "differences between builds suffer far less."
)


def ask_questions(day: TestDay) -> tuple[str, ...]:
    """Sentences about what differs undeclared, zeros that are missing, and the order of runs."""
    return (
        *_undeclared(day),
        *_missing_zeros(day),
        *_order(day),
        *([] if any(not run.is_powered for run in day.runs) else [METER_CAUTION]),
    )


def ask_about_passes(readings: Iterable[RunReading]) -> tuple[str, ...]:
    """Passes through a run's gates that no run uses, and passes that two runs use."""
    used: dict[tuple[str, str, bool], dict[int, list[int]]] = {}
    found: dict[tuple[str, str, bool], tuple[Pass, ...]] = {}
    for reading in readings:
        written = reading.run.written
        if written.recording is None:
            continue
        key = (written.recording, reading.run.road.name, written.back)
        found[key] = reading.passes
        used.setdefault(key, {}).setdefault(written.pass_number, []).append(reading.run.number)
    questions = []
    for (file, road, back), passes in found.items():
        way = f"{road}, back" if back else road
        by_pass = used[file, road, back]
        for number, runs in by_pass.items():
            if len(runs) > 1:
                listed = " and ".join(str(run) for run in runs)
                questions.append(f"Runs {listed} are the same pass {number} of {file}.")
        spare = [one for one in passes if one.number not in by_pass]
        if spare:
            listed = joined(
                ", ",
                (Phrase(f"{one.number} ({{pass}})", **{"pass": _pass_words(one)}) for one in spare),
            )
            questions.append(
                Phrase(
                    f"{{file}} passes {{way}} {len(passes)} times; no run uses pass {{listed}}. "
                    "Name each as a run with `pass_number`, or leave it.",
                    file=file,
                    way=way,
                    listed=listed,
                )
            )
    return tuple(questions)


def _pass_words(one: Pass) -> Phrase:
    power = "" if one.mean_power_w != one.mean_power_w else f", {one.mean_power_w:.0f} W"
    return joined("; ", [f"{stopwatch(one.time_s)}{power}", *one.doubts])


def _text(value: object) -> str:
    if isinstance(value, tuple):
        if not value:
            return ""
        return Phrase("{pressure}", pressure=amount(Measures.tyre_pressure, *value))
    return str(value).strip()


def _values(runs: Iterable[TestRun], key: str) -> dict[str, None]:
    found = (_text(getattr(run.written, key)) for run in runs)
    return dict.fromkeys(value for value in found if value)


def _undeclared(day: TestDay) -> list[str]:
    questions: list[str] = []
    for key, word in NOTED.items():
        by_build: dict[str, dict[str, None]] = {}
        for tested in day.builds:
            runs = [run for run in day.runs if run.build is tested]
            values = _values(runs, key)
            by_build[tested.name] = values
            if len(values) > 1:
                questions.append(
                    Phrase(
                        f"The {word} of {{build}} changed during the test ({{listed}}): its runs "
                        "do not repeat one set-up.",
                        build=tested.name,
                        listed=joined(", ", values),
                    )
                )
        declared = any(word in tested.declared for tested in day.builds)
        told = {name: joined(" and ", values) for name, values in by_build.items() if values}
        if len(set(told.values())) > 1 and not declared:
            pairs = (Phrase("{name}: {value}", name=n, value=v) for n, v in told.items())
            questions.append(
                Phrase(
                    f"The {word} differs between the builds ({{listed}}) and nobody declared it: "
                    f'is it part of what is compared? If so, write declared = ["{word}"] for the '
                    "build.",
                    listed=joined("; ", pairs),
                )
            )
        silent = [name for name, values in by_build.items() if not values]
        if told and silent:
            questions.append(f"The {word} of {', '.join(silent)} is not noted.")
    return questions


def _missing_zeros(day: TestDay) -> list[str]:
    missing: dict[str, list[TestRun]] = {}
    before: TestRun | None = None
    for run in (run for run in day.runs if run.is_powered):
        moved = before is not None and (run.fitting != before.fitting or bool(run.written.swapped))
        if moved and not run.written.meter_zero:
            why = "the meter was moved" if before and run.fitting != before.fitting else "a swap"
            missing.setdefault(why, []).append(run)
        before = run
    return [
        f"{run_words(run.number for run in runs).capitalize()} "
        f"({' and '.join(dict.fromkeys(run.build.name for run in runs))}): no meter zero is noted "
        f"after {why}. A zero that is off by 3 W is 1 % of the power."
        for why, runs in missing.items()
    ]


def _order(day: TestDay) -> list[str]:
    """Each build's runs all before the other's: drift of wind looks like a difference."""
    names = list(dict.fromkeys(run.build.name for run in day.runs))
    if len(names) < 2:
        return []
    spans = {name: [run.number for run in day.runs if run.build.name == name] for name in names}
    first, other = spans[names[0]], spans[names[1]]
    if max(first) < min(other) and len(first) > 1 and len(other) > 1:
        return [
            f"All runs of {names[0]} came before those of {names[1]}: wind that drifts looks like "
            "a difference between them. Ride A B B A."
        ]
    return []

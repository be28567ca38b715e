"""Test days: what is read, what is refused, what is questioned."""

import tomllib
from pathlib import Path

import pytest

from simulator.errors import InputError, InputErrors
from simulator.fieldtest import RunPlanFile, TestDayFile, VerdictFile, load_testday
from simulator.fieldtest.questions import METER_CAUTION, ask_questions
from simulator.fieldtest.toldonce import run_words

EXAMPLES = Path(__file__).parents[2] / "configs" / "fieldtest"
ROAD = '[[road]]\nname = "hill"\nlength_m = 1000\ngrade_pct = 6\n'


def run(build="Plover", **keys):
    keys = {"kind": "climb", "road": "hill", "time_s": 240, "power_w": 250} | keys
    lines = [f'[[run]]\nbuild = "{build}"']
    for key, value in keys.items():
        if value is not None:
            text = f'"{value}"' if isinstance(value, str) else str(value).lower()
            lines.append(f"{key} = {text}")
    return "\n".join(lines) + "\n"


def questions(day):
    return " ".join(ask_questions(day))


TWO = '[[build]]\nfile = "gannet.toml"\n' + ROAD


def test_example_day_is_read():
    day = load_testday(EXAMPLES / "testday.toml")
    assert [tested.name for tested in day.builds] == ["Gannet", "Plover"]
    assert [run.build.name[0] for run in day.runs[:8]] == list("GPPGGPPG")
    road = day.runs[0].road
    assert road.length_m == pytest.approx(2500.0)
    assert road.mean_grade == pytest.approx(0.068, abs=0.001)


@pytest.mark.parametrize(
    ("schema", "files"),
    [
        (TestDayFile, ["testday.toml"]),
        (VerdictFile, ["two-climbs.toml"]),
        (RunPlanFile, ["runs.toml"]),
    ],
)
def test_top_keys_stand_in_an_example(schema, files):
    told = set()
    for name in files:
        told |= set(tomllib.loads((EXAMPLES / name).read_text(encoding="utf-8")))
    assert set(schema.model_fields) <= told


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (ROAD + run(build="Heron"), '"Heron" is not known here; expected one of "Plover"'),
        (ROAD + run(road="hull"), '"hull" is not known here; expected one of "hill"'),
        (ROAD + run(time_s=None), "nothing measured"),
        (ROAD + run(stop_m=100), "`time_s` and `stop_m`"),
        (ROAD + run(power_w=None), "no power"),
        (ROAD + run(kind="coast"), "no speed at the first gate"),
        (ROAD + run(kind="free"), "a free ride without recording"),
        (ROAD + run(kind="coasting"), "found the text"),
        (ROAD + run(power="250"), "the unit belongs in the key: did you mean `power_w`?"),
        ('[[road]]\nname = "hill"\n' + run(), "neither course nor length"),
        ('[[road]]\nname = "hill"\ncourse = "c"\nfrom_km = 1\n' + run(), "no gate"),
    ],
)
def test_wrong_days_are_refused(make_day, text, words):
    with pytest.raises((InputError, InputErrors)) as caught:
        make_day(text)
    assert words in str(caught.value)


def test_gate_that_the_course_lacks(make_day):
    course = EXAMPLES.parents[1] / "courses" / "steady-climb"
    text = f'[[road]]\nname = "hill"\ncourse = "{course}"\nfrom_gate = "low"\nto_km = 2\n'
    with pytest.raises(InputError, match='"low" is not known here; expected one of "lower gate"'):
        make_day(text + run())


def test_gates_out_of_order(make_day):
    course = EXAMPLES.parents[1] / "courses" / "steady-climb"
    text = f'[[road]]\nname = "hill"\ncourse = "{course}"\nfrom_km = 2\nto_km = 1\n'
    with pytest.raises(InputError, match="two places in order"):
        make_day(text + run())


@pytest.mark.parametrize(
    ("key", "one", "two", "word"),
    [
        ("tyres", "25 mm", "28 mm", "tyres"),
        ("tyre_pressure_bar", [6.0, 6.0], [4.0, 4.0], "pressure"),
        ("clothing", "skinsuit", "jacket", "clothing"),
        ("position", "drops", "hoods", "position"),
    ],
)
def test_undeclared_difference_is_questioned(make_day, key, one, two, word):
    text = TWO + run(**{key: one}) + run("Gannet", **{key: two})
    assert f"The {word} differs between the builds" in questions(make_day(text))
    declared = text.replace('"gannet.toml"\n', f'"gannet.toml"\ndeclared = ["{word}"]\n')
    assert f"The {word} differs" not in questions(make_day(declared))
    same = TWO + run(**{key: one}) + run("Gannet", **{key: one})
    assert f"The {word} differs" not in questions(make_day(same))


def test_change_within_a_build_is_questioned(make_day):
    text = ROAD + run(clothing="jacket") + run(clothing="skinsuit")
    assert "its runs do not repeat one set-up" in questions(make_day(text))


def test_missing_zero_after_a_swap_is_questioned(make_day):
    moved = TWO + run(fitting="a", meter_zero="9:00") + run("Gannet", fitting="b")
    assert "Run 2 (Gannet): no meter zero is noted after the meter was moved" in questions(
        make_day(moved)
    )
    swapped = ROAD + run(meter_zero="9:00") + run(swapped="front wheel")
    assert "after a swap" in questions(make_day(swapped))
    good = TWO + run(fitting="a") + run("Gannet", fitting="b", meter_zero="9:20")
    assert "no meter zero" not in questions(make_day(good))


def test_order_without_alternation_is_questioned(make_day):
    aabb = TWO + run() * 2 + run("Gannet") * 2
    abba = TWO + run() + run("Gannet") * 2 + run()
    assert "Ride A B B A" in questions(make_day(aabb))
    assert "Ride A B B A" not in questions(make_day(abba))


def test_powered_runs_alone_get_the_caution_about_the_meter(make_day):
    assert METER_CAUTION in ask_questions(make_day(ROAD + run()))
    unpowered = run(kind="roll-down", power_w=None, start_kmh=10)
    assert METER_CAUTION not in ask_questions(make_day(ROAD + run() + unpowered))


@pytest.mark.parametrize(
    ("numbers", "words"),
    [
        ([3], "run 3"),
        ([4, 2, 4], "runs 2 and 4"),
        ([1, 2], "runs 1 and 2"),
        (range(1, 11), "runs 1 to 10"),
        ([1, 2, 3, 5, 7, 8, 9, 10, 12], "runs 1 to 3, 5, 7 to 10 and 12"),
    ],
)
def test_runs_are_listed_in_words(numbers, words):
    assert run_words(numbers) == words


def test_missing_zeros_are_asked_about_once(make_day):
    """Four moves of the meter, none with a zero: one sentence names the four runs."""
    text = '[[build]]\nfile = "gannet.toml"\n'
    text += '[[road]]\nname = "hill"\nlength_m = 1000\ngrade_pct = 7\n'
    for name in ("Plover", "Gannet", "Plover", "Gannet", "Plover"):
        text += f'[[run]]\nbuild = "{name}"\nkind = "climb"\nroad = "hill"\n'
        text += "time_s = 240\npower_w = 250\n"
    told = [text for text in ask_questions(make_day(text)) if "no meter zero" in text]
    assert told == [
        "Runs 2 to 5 (Gannet and Plover): no meter zero is noted after the meter was moved. A zero "
        "that is off by 3 W is 1 % of the power."
    ]

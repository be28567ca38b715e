"""Files of builds, riders and weather, damaged in every way a hand or a disk can think of."""

import math
import time
from pathlib import Path

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from simulator.errors import InputError, InputErrors
from simulator.files import check_toml
from simulator.setup import BuildFile, RiderFile, WeatherFile
from simulator.setup.build_file import build_of
from simulator.setup.rider_file import rider_of
from simulator.setup.weather_file import weather_of

CONFIGS = Path(__file__).parents[2] / "configs"
KINDS = {
    "plover.toml": (BuildFile, build_of),
    "gannet.toml": (BuildFile, build_of),
    "rider.toml": (RiderFile, rider_of),
    "weather.toml": (WeatherFile, weather_of),
}
TEXTS = {name: (CONFIGS / name).read_text(encoding="utf-8") for name in KINDS}
A_SECOND_S = 1.0


def load_or_complain(name, text):
    """The loaded thing, or None after a complaint in good form."""
    schema, make = KINDS[name]
    try:
        written = check_toml(text, schema, file=name)
    except InputError as error:
        problems = error.problems if isinstance(error, InputErrors) else (error,)
        for problem in problems:
            assert str(problem).startswith(name)
            assert "\n" not in str(problem)
            assert len(str(problem)) < 700
        return None
    return make(written)


@settings(max_examples=150, deadline=None)
@given(
    name=st.sampled_from(sorted(KINDS)),
    at=st.floats(0.0, 1.0),
    length=st.integers(0, 30),
    junk=st.text(
        alphabet=st.sampled_from("ab_= \n\t[]{}\",.'#-+0123456789ein\\\x00\x1f…"), max_size=12
    ),
)
def test_a_piece_overwritten_by_junk(name, at, length, junk):
    text = TEXTS[name]
    start = round(at * len(text))
    load_or_complain(name, text[:start] + junk + text[start + length :])


VALUES = st.one_of(
    st.floats().map(lambda number: repr(number) if math.isfinite(number) else str(number)),
    st.integers().map(str),
    st.booleans().map(lambda flag: "true" if flag else "false"),
    st.sampled_from(['"text"', "''", "[]", "[1]", "{}", "{ value = 1 }", "2026-11-25", "12:00:00"]),
    st.tuples(st.floats(), st.floats()).map(
        lambda pair: f"{{ value = {pair[0]!r}, sd = {pair[1]!r} }}"
    ),
)


@settings(max_examples=250, deadline=None)
@given(name=st.sampled_from(sorted(KINDS)), pick=st.integers(0, 60), value=VALUES)
@example(name="plover.toml", pick=1, value="{ value = 8.6, sd = nan }")
@example(name="plover.toml", pick=1, value="-0.0")
@example(name="weather.toml", pick=1, value="1e400")
def test_any_value_for_any_key_is_taken_within_limits_or_refused(name, pick, value):
    lines = TEXTS[name].splitlines()
    keys = [i for i, line in enumerate(lines) if line[:1].isalpha()]
    at = keys[pick % len(keys)]
    key = lines[at].partition(" ")[0]
    lines[at] = f"{key} = {value}"
    thing = load_or_complain(name, "\n".join(lines))
    if thing is None:
        return
    for field in thing.__dataclass_fields__:
        number = getattr(thing, field)
        number = getattr(number, "value", number)
        if isinstance(number, float):
            assert math.isfinite(number), field
    if name in ("plover.toml", "gannet.toml"):
        assert 0.0 < thing.mass_kg.value <= 60.0
        assert 0.8 <= thing.drivetrain_efficiency.value <= 1.0
        assert thing.cda_m2.sd >= 0.0
        assert list(thing.yaw_degs) == sorted(thing.yaw_degs)


@pytest.mark.parametrize("name", sorted(KINDS))
def test_each_key_left_out_is_defaulted_or_named(name):
    lines = TEXTS[name].splitlines()
    for at, line in enumerate(lines):
        if not line[:1].isalpha():
            continue
        key = line.partition(" ")[0]
        try:
            check_toml("\n".join(lines[:at] + lines[at + 1 :]), KINDS[name][0], file=name)
        except InputError as error:
            assert f"`{key}`" in str(error) or f".{key}`" in str(error)  # noqa: PT017


@pytest.mark.parametrize("name", sorted(KINDS))
def test_each_key_misspelt_is_found_again(name):
    lines = TEXTS[name].splitlines()
    n_tried = 0
    for at, line in enumerate(lines):
        key = line.partition(" ")[0]
        if not line[:1].isalpha() or len(key) < 5:
            continue
        swapped = key[0] + key[2] + key[1] + key[3:]
        if swapped == key:
            continue
        text = "\n".join([*lines[:at], line.replace(key, swapped, 1), *lines[at + 1 :]])
        with pytest.raises(InputError) as caught:
            check_toml(text, KINDS[name][0], file=name)
        assert f"line {at + 1}, key `" in str(caught.value)
        assert f"did you mean `{key}`?" in str(caught.value)
        n_tried += 1
    assert n_tried >= 5


@pytest.mark.slow
@pytest.mark.parametrize(
    "text",
    [
        "\n".join(".".join("a" * 950) + f"{i} = 1" for i in range(500)),
        "\n".join(f"[a.b.c.d{i}]\nx = 1" for i in range(40_000)),
        "\n".join(f"[[a]]\nx{i} = 1" for i in range(40_000)),
        "a = [" + "[],\n" * 200_000 + "]",
        'a = """' + '\\"\n' * 200_000 + '"""',
        "a = '''" + "''\n" * 200_000 + "'''",
        "\n".join(f"k{i} = 1" for i in range(60_000)),
    ],
    ids=["dotted", "tables", "arrays", "lists", "basic", "literal", "unknown"],
)
def test_hostile_files_within_the_size_limit_are_answered_in_time(text):
    assert len(text) <= 1_000_000
    start_s = time.process_time()
    with pytest.raises(InputError):
        check_toml(text, BuildFile, file="x.toml")
    assert time.process_time() - start_s < 10 * A_SECOND_S


def test_a_file_with_everything_wrong_is_told_in_a_screenful():
    with pytest.raises(InputErrors) as caught:
        check_toml("\n".join(f"k{i} = 1" for i in range(2000)), BuildFile, file="x.toml")
    sentences = str(caught.value).splitlines()
    assert len(sentences) == 21
    # 2000 unknown keys and 4 missing ones.
    assert sentences[-1] == "x.toml: 1984 more problems; mend these first."


def test_twenty_problems_are_all_told_and_no_more_promised():
    text = 'name = "x"\nmass_kg = 8\ncda_m2 = 0.3\ncrr = 0.004\n'
    with pytest.raises(InputErrors) as caught:
        check_toml(text + "\n".join(f"k{i} = 1" for i in range(20)), BuildFile, file="x.toml")
    assert len(caught.value.problems) == 20
    assert "more" not in str(caught.value)


def test_long_text_is_shown_shortened():
    text = 'name = "x"\nmass_kg = 8\ncda_m2 = 0.3\ncrr = 0.004\nprice = "' + "long " * 100 + '"'
    with pytest.raises(InputError) as caught:
        check_toml(text, BuildFile, file="x.toml")
    shown = str(caught.value).split('"')[1]
    assert len(shown) == 40
    assert shown.startswith("long long")
    assert shown.endswith("…")


LIMITS = {
    RiderFile: {
        "mass_kg": (25, 200), "kit_kg": (0, 30), "power_w": (20, 1000),
        "cadence_top_rpm": (60, 250), "start_force_n": (20, 1000), "coast_grade_pct": (-50, 0),
        "coast_speed_kmh": (20, 150), "lean_deg": (5, 50), "braking_g": (0.05, 0.8),
    },
    WeatherFile: {
        "temperature_degc": (-30, 55), "humidity_pct": (0, 100), "wind_from_deg": (0, 360),
        "rider_height_m": (0.5, 3.0),
    },
}  # fmt: skip


@pytest.mark.parametrize(
    ("schema", "key"), [(schema, key) for schema, keys in LIMITS.items() for key in keys]
)
def test_limits_of_rider_and_weather(schema, key):
    low, high = LIMITS[schema][key]
    for value in (low, high):
        check_toml(f"{key} = {value}", schema, file="x.toml")
    for value in (low - 1e-6, high + 1e-6):
        with pytest.raises(InputError, match=f"line 1, key `{key}`: found"):
            check_toml(f"{key} = {value}", schema, file="x.toml")


@pytest.mark.parametrize(
    ("written", "degrees"),
    [
        ("W", "270"), ("west", "270"), ("South-West", "225"), ("NNE", "22.5"), ("northerly", "0"),
        ("sou", None), ("", None),
    ],
)  # fmt: skip
@pytest.mark.parametrize(
    "form",
    [
        'wind_kmh = 20\nwind_from_deg = "{}"\n',
        'wind_kmh = 20\nwind_from_deg = {{ value = "{}", sd = 9.0 }}\n',
        'wind_kmh = 20\nwind_from_deg = 3\nstart_clock = "9:00"\n'
        '[[wind_at]]\nclock = "9:30"\nwind_kmh = 9\nwind_from_deg = "{}"\n',
    ],
)
def test_a_point_of_the_compass_is_told_in_degrees(form, written, degrees):
    with pytest.raises(InputError) as told:
        check_toml(form.format(written), WeatherFile, file="w.toml")
    if degrees is None:
        assert "west 270" not in str(told.value)
    else:
        assert "north is 0, east 90, south 180, west 270" in str(told.value)
        assert str(told.value).endswith(f"write {degrees}.")

"""docs/files.md is what the schemas say, and what it says of ranges and defaults holds."""

import re
import sys
from pathlib import Path

import pytest

from simulator.errors import InputError
from simulator.files import ValueWithSd, check_keys

DOCS = Path(__file__).parents[2] / "docs"
sys.path.insert(0, str(DOCS))

import file_keys  # noqa: E402
import make_file_reference  # noqa: E402

PAGE = (DOCS / "files.md").read_text(encoding="utf-8")


def test_the_page_is_what_the_script_makes():
    assert make_file_reference.page_text() == PAGE, "run `make docs`"


def test_every_example_named_is_there_and_is_of_its_kind():
    for kind in file_keys.KINDS:
        path = DOCS.parent / kind.example
        text = path.read_text(encoding="utf-8")
        told = [key.name for key in file_keys.keys_of(kind.schema) if key.table == ""]
        assert sum(f"{name} =" in text or f"[{name}]" in text for name in told) >= 2, kind.title
        assert f"](#{kind.anchor})" in PAGE
        assert f"\n## {kind.title}\n" in PAGE


def test_every_schema_of_the_program_is_told():
    """A new kind of file that nobody documents fails here."""
    from simulator.files import StrictSchema

    def below(schema):
        for each in schema.__subclasses__():
            yield each
            yield from below(each)

    told = {kind.schema for kind in file_keys.KINDS}
    for kind in file_keys.KINDS:
        told |= {key.inner for key in file_keys.keys_of(kind.schema) if key.inner}
    shown = {each for each in below(StrictSchema) if each.__module__.startswith("simulator.")}
    assert {each.__name__ for each in shown - told} <= {ValueWithSd.__name__}


NUMBERS = [
    (kind, key)
    for kind in file_keys.KINDS
    for key in file_keys.keys_of(kind.schema)
    if key.table == "" and key.limits.startswith("from ") and not key.kind.startswith("list")
]


@pytest.mark.parametrize(("kind", "key"), NUMBERS, ids=lambda x: getattr(x, "anchor", "") or x.name)
def test_what_lies_outside_a_range_told_is_refused(kind, key):
    words = key.limits.split()
    low, high = float(words[1].replace(",", "")), float(words[3].replace(",", ""))
    for number in (low - abs(high - low), high + abs(high - low)):
        value = round(number) if key.kind == "whole number" else number
        with pytest.raises(InputError) as told:
            check_keys({key.name: value}, kind.schema, file="x")
        assert f"`{key.name}`" in str(told.value)


def test_defaults_told_are_those_that_hold():
    from simulator import make_rider, make_weather

    rider, weather = make_rider(name="X"), make_weather(name="X")
    rows = {
        (k.title, key.name): key for k in file_keys.KINDS for key in file_keys.keys_of(k.schema)
    }
    assert float(rows["Rider", "power_w"].default) == rider.power_w.value
    assert float(rows["Rider", "start_force_n"].default) == rider.start_force_n
    assert float(rows["Weather", "pressure_hpa"].default) == weather.pressure_hpa.value
    assert rows["Build", "crr"].default == "must be given"


def test_every_unit_of_a_number_is_told_where_the_name_has_one():
    for kind in file_keys.KINDS:
        for key in file_keys.keys_of(kind.schema):
            ending = key.name.rpartition("_")[2]
            if "number" in key.kind and ending in ("kmh", "w", "kg", "m", "m2", "s", "km", "deg"):
                assert key.unit, f"{kind.title}: {key.name}"


def test_times_of_a_csv_recording_are_read_as_they_are_told(tmp_path):
    from simulator.recordings import read_recording

    (row,) = [line for line in PAGE.splitlines() if line.startswith("| Recording |")]
    forms = re.findall(r"`([^`]*\d:\d\d:\d\d)`", row)
    assert len(forms) == 2  # of one day, and with the date
    for form in ("4", *forms):
        path = tmp_path / "ride.csv"
        rows = [f"{form[:-1]}{i},{44.5 + 9e-5 * i},-35.5,{200 + i}" for i in range(9)]
        path.write_text("\n".join(["time,lat_deg,lon_deg,power_w", *rows]), encoding="utf-8")
        recording = read_recording(path)
        assert (recording.times_s[1:] - recording.times_s[:-1]).tolist() == [1.0] * 8, form

"""CSV cells that no spreadsheet runs; JSON that any reader can read back exactly."""

import csv
import dataclasses
import io
import json
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from simulator import __version__
from simulator.files import csv_text, json_text


def cells(text):
    return list(csv.reader(io.StringIO(text, newline="")))


def test_numbers_text_and_nothing():
    text = csv_text(
        ["name", "gap_s"],
        [
            ["Plover", -1.5],
            [None, math.nan],
            [True, np.float64(0.1)],
            [np.int64(3), np.bool_(False)],
        ],
    )
    assert text == "name,gap_s\nPlover,-1.5\n,\ntrue,0.1\n3,false\n"


@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t", "\n", "＝", "  =", " \t="])
def test_text_that_a_spreadsheet_would_run_is_guarded(start):
    cell = start + "cmd|' /C calc'!A0"
    assert cells(csv_text(["a"], [[cell]]))[1][0] == "'" + cell


def test_lone_carriage_return_does_not_end_the_row():
    assert cells(csv_text(["a", "b"], [["\r=1", "x\ry"]]))[1] == ["'\n=1", "x\ny"]


def test_header_is_guarded_too():
    assert cells(csv_text(["=a"], []))[0][0] == "'=a"


@given(st.floats())
def test_numbers_come_back_exactly(number):
    cell = cells(csv_text(["a", "b"], [[number, 1]]))[1][0]
    assert cell == "" if not math.isfinite(number) else float(cell) == number


@given(st.text(alphabet=st.characters(exclude_categories=("Cs",), exclude_characters="\0\r")))
def test_harmless_text_comes_back_and_no_cell_starts_a_formula(text):
    cell = cells(csv_text(["a", "b"], [[text, 1]]))[1][0]
    assert cell in (text, "'" + text)
    assert not cell.strip(" ").startswith(("=", "+", "-", "@", "\t"))


def test_uneven_rows_are_a_fault_of_ours():
    with pytest.raises(ValueError, match="1 cells, the header 2"):
        csv_text(["a", "b"], [["x"]])


@dataclasses.dataclass
class Gap:
    total_s: float
    nodes_s: np.ndarray


def test_json_says_what_it_is():
    document = json.loads(
        json_text("compare", {"gap": Gap(1.5, np.array([0.0, math.inf])), "builds": ("a", "b")})
    )
    assert document == {
        "schema": "buildgap/compare",
        "version": 1,
        "made_by": f"buildgap {__version__}",
        "data": {"gap": {"total_s": 1.5, "nodes_s": [0.0, None]}, "builds": ["a", "b"]},
    }


def test_json_of_numbers_of_numpy_and_sets():
    data = json.loads(json_text("x", {"a": np.float32(0.5), "b": np.int64(2), "c": {"x"}}))["data"]
    assert data == {"a": 0.5, "b": 2, "c": ["x"]}
    assert json.loads(json_text("x", {"d": np.bool_(True)}))["data"] == {"d": True}


@given(st.floats(allow_nan=False, allow_infinity=False))
def test_json_numbers_come_back_exactly(number):
    assert json.loads(json_text("x", {"a": number}))["data"]["a"] == number


def test_json_refuses_what_it_cannot_hold():
    with pytest.raises(TypeError, match="object has no form in JSON"):
        json_text("x", {"a": object()})


def test_arrays_stand_on_one_line_and_the_rest_on_lines_of_its_own():
    # A ride's JSON has tens of thousands of numbers; one a line made it ten times as long.
    text = json_text(
        "x", {"speeds_mps": np.arange(4.0), "rows": [{"a": 1}, {"a": [1, 2]}], "e": {}}
    )
    assert ' "speeds_mps": [0.0, 1.0, 2.0, 3.0],' in text.splitlines()[5]
    assert json.loads(text)["data"] == {
        "speeds_mps": [0.0, 1.0, 2.0, 3.0], "rows": [{"a": 1}, {"a": [1, 2]}], "e": {},
    }  # fmt: skip


def test_no_formula_behind_a_semicolon_either():
    """Where the comma is the decimal mark, a spreadsheet cuts there, quoted or not."""
    text = csv_text(["name"], [["a;=1+1"], ["b; @x"], ["c; d"], ["-e;f"]])
    assert text == "name\na;'=1+1\nb; '@x\nc; d\n'-e;f\n"

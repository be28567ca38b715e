import csv
import dataclasses
import io
import json

import numpy as np
import pytest

from simulator.report import comparison_json, make_gap_view, segments_csv
from simulator.report.export import JSON_KEYS
from simulator.report.views import CHOICE_OF_UNITS
from simulator.ride import ENERGY_CAUSES

# Written to 10 µs (times) and 1 mJ (energies), so sums differ by less than these times the rows.
TEN_MICROSECONDS = 1e-5
UNITS = ("_m", "_s", "_mps", "_w", "_j", "_deg")


def table(text):
    return list(csv.DictReader(io.StringIO(text)))


def test_each_segment_is_a_row_and_the_gap_is_the_difference_of_times(hilly):
    rows = table(segments_csv(hilly))
    gap = hilly.gap
    assert len(rows) == gap.first.course.n_segments
    for row in rows[:: len(rows) // 50]:
        difference = float(row["other_time_s"]) - float(row["first_time_s"])
        assert float(row["gap_s"]) == pytest.approx(difference, abs=2 * TEN_MICROSECONDS)
    assert float(rows[-1]["gap_s"]) == pytest.approx(gap.total_s, abs=TEN_MICROSECONDS)
    here = sum(float(row["gap_here_s"]) for row in rows)
    assert here == pytest.approx(gap.total_s, abs=len(rows) * 1e-6)


def test_energies_in_the_csv_are_those_of_the_ride(hilly):
    rows = table(segments_csv(hilly))
    for i, cause in enumerate(ENERGY_CAUSES):
        written = sum(float(row[f"other_{cause}_j"]) for row in rows)
        meant = hilly.gap.other.energies_j[i].sum()
        assert written == pytest.approx(meant, abs=len(rows) * 1e-3)


def test_a_straight_has_no_radius_and_no_ceiling_is_an_empty_cell(plain):
    row = table(segments_csv(plain))[5]
    assert row["radius_m"] == ""


def test_rows_name_their_lap_and_stretch(lapped):
    rows = table(segments_csv(lapped))
    laps = [int(row["lap"]) for row in rows]
    assert laps == sorted(laps)
    assert set(laps) == set(range(1, lapped.gap.first.course.n_laps + 1))
    assert {row["stretch"] for row in rows} == {"Flat 1"}


def test_column_names_end_in_units(hilly):
    header = segments_csv(hilly).splitlines()[0].split(",")
    bare = [name for name in header if not name.endswith(UNITS)]
    assert bare == ["lap", "stretch", "grade"]


def test_json_names_its_schema_and_explains_every_key(hilly):
    document = json.loads(comparison_json(make_gap_view(hilly)))
    assert document["schema"] == "buildgap/compare"
    assert document["version"] == 1
    data = document["data"]
    assert set(data) == {"about", *JSON_KEYS}
    assert data["about"] == JSON_KEYS


def test_json_leaves_out_only_what_is_drawn(hilly):
    view = make_gap_view(hilly)
    fields = {field.name for field in dataclasses.fields(view)}
    assert fields - set(JSON_KEYS) == {"series", "plan", "bands", *CHOICE_OF_UNITS}


def test_json_holds_the_numbers_of_the_view(hilly):
    data = json.loads(comparison_json(make_gap_view(hilly)))["data"]
    assert data["gap_s"] == hilly.gap.total_s
    assert sum(row["gap_s"] for row in data["places"]) == pytest.approx(data["gap_s"])
    matrix = np.array(data["matrix"]["gaps_s"])
    assert matrix.sum() == pytest.approx(data["gap_s"])


def test_names_with_markup_survive_the_trip(nasty):
    view = make_gap_view(nasty)
    data = json.loads(comparison_json(view))["data"]
    assert data["other"]["name"] == view.other.name

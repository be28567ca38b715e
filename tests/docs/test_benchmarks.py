"""The table of speed: its words are right for what is measured, and its work is the same work."""

import re
import sys
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parents[1] / "benchmarks"))

import bench_table
import bench_work
from bench_rows import PARTS, Row


def test_every_budget_of_the_design_has_a_row():
    """Seconds: a ride, 20,000 rides, a track, the help, the demo, a plan of 100,000 sets."""
    told = (Path(bench_table.__file__).parent / "bench_rows.py").read_text(encoding="utf-8")
    budgets = set(re.findall(r'budget="([\d.]+)"', told))
    assert budgets == {"0.001", "2.5", "1", "0.3", "2", "60"}
    assert set(PARTS) >= {"one_ride", "many_rides", "track_to_course", "spending", "starting"}


def test_the_page_tells_times_and_ratios():
    rows = [
        Row(
            what="A ride",
            budget="0.001",
            measured_s=0.002,
            alternative="by hand",
            alternative_s=0.5,
            grows=(("a ride", "10 km", 0.001), ("a ride", "40 km", 0.004)),
        )
    ]
    page = bench_table.page_text({"one": (rows, 210.4)}, load="quiet")
    assert "| A ride | 0.001 | 2.00e-03 | by hand | 0.5 | 250 |  | 210 MB |" in page
    assert "| a ride | 40 km | 4.00e-03 | 4 |" in page


def test_the_alternatives_do_the_same_work():
    """Else a comparison of times says nothing."""
    course, setup = bench_work.rolling_road(2), bench_work.plain_setup()
    equation = bench_work.Equation(course)
    ours_s = bench_work.Laid(course, setup).ride()
    assert equation.by_plain_loop() == pytest.approx(ours_s, abs=1e-6)
    # Its steps do not begin at the segments' borders.
    assert equation.by_scipy() == pytest.approx(ours_s, abs=0.02)
    masses, areas, crrs = bench_work.many_draws(16)
    theirs_s = equation.many_by_numpy(masses + 8.0, areas, crrs)
    assert np.ptp(theirs_s) > 0.1
    one = equation.many_by_numpy(np.full(1, 80.0), np.full(1, 0.30), np.full(1, 0.004))
    assert one[0] == pytest.approx(ours_s, abs=1e-6)


def test_a_track_by_packages_is_as_long_as_ours(tmp_path):
    from simulator import load_course

    path = bench_work.write_gpx(tmp_path / "ride.gpx", 5)
    assert bench_work.course_by_packages(path) == pytest.approx(
        load_course(path).distance_m, rel=2e-3
    )


@pytest.mark.slow
def test_a_part_is_measured_in_a_process_of_its_own():
    rows, peak_mb = bench_table.run_part("one_ride", quick=True)
    assert rows[0].measured_s < rows[0].alternative_s
    assert 50.0 < peak_mb < 500.0

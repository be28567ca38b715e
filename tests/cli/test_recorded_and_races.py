"""``buildgap compare`` with a recorded ride, and with several courses or weathers."""

import csv
import io
import json
import math
import os
import sys
from pathlib import Path

import numpy as np
import pytest

from simulator.cli import comparing, main
from simulator.course import build_course
from simulator.files import csv_text
from simulator.pacing import constant_demand
from simulator.ride import simulate
from simulator.setup import RideSetup, default_rider, default_weather, load_build

CONFIGS = Path(__file__).parents[2] / "configs"
PLOVER, GANNET = CONFIGS / "plover.toml", CONFIGS / "gannet.toml"


def track(name, lat0=44.5):
    """A round hill of three kilometres on the open sea."""
    points = []
    for i in range(240):
        angle = 2.0 * math.pi * i / 239
        lat = lat0 + 480.0 * math.cos(angle) / 111_195.0
        lon = -35.5 + 480.0 * math.sin(angle) / (111_195.0 * math.cos(math.radians(lat0)))
        height = 40.0 - 35.0 * math.cos(angle)
        points.append(f'<trkpt lat="{lat:.7f}" lon="{lon:.7f}"><ele>{height:.2f}</ele></trkpt>')
    return (
        '<?xml version="1.0"?><gpx version="1.1" creator="x" '
        'xmlns="http://www.topografix.com/GPX/1/1"><trk>'
        f"<name>{name}</name><trkseg>{''.join(points)}</trkseg></trk></gpx>"
    )


@pytest.fixture(scope="module")
def moor(tmp_path_factory):
    path = tmp_path_factory.mktemp("courses") / "moor.gpx"
    path.write_text(track("Moor loop"), encoding="utf-8")
    return path


@pytest.fixture(scope="module")
def fell(moor):
    path = moor.with_name("<b>fell.gpx")
    path.write_text(track("Fell", 44.6), encoding="utf-8")
    return path


def samples(ride, every_s=1.0):
    """A row a second: time, latitude, longitude, power, speed."""
    course = ride.course
    times_s = np.arange(0.0, ride.time_s + every_s, every_s)
    works_j = np.append(0.0, np.cumsum(ride.powers_w * np.diff(ride.node_times_s)))
    at_m = np.interp(times_s, ride.node_times_s, course.node_distances_m)
    done_j = np.interp(times_s, ride.node_times_s, works_j)
    return list(
        zip(
            times_s.tolist(),
            np.interp(at_m, course.node_distances_m, course.node_lats_deg).tolist(),
            np.interp(at_m, course.node_distances_m, course.node_lons_deg).tolist(),
            np.diff(done_j, prepend=0.0).tolist(),
            np.interp(times_s, ride.node_times_s, ride.node_speeds_mps).tolist(),
            strict=True,
        )
    )


def as_csv(rows):
    return csv_text(["time_s", "lat_deg", "lon_deg", "power_w", "speed_mps"], rows)


def clock(time_s):
    whole = round(time_s)
    return f"2026-05-03T09:{whole // 60:02d}:{whole % 60:02d}Z"


def as_gpx(rows):
    points = "".join(
        f'<trkpt lat="{lat:.7f}" lon="{lon:.7f}"><time>{clock(t)}</time>'
        f"<extensions><power>{power:.0f}</power><speed>{speed:.3f}</speed></extensions></trkpt>"
        for t, lat, lon, power, speed in rows
    )
    return (
        '<gpx version="1.1" creator="x" xmlns="http://www.topografix.com/GPX/1/1">'
        f"<trk><trkseg>{points}</trkseg></trk></gpx>"
    )


def as_tcx(rows):
    points = "".join(
        f"<Trackpoint><Time>{clock(t)}</Time><Position>"
        f"<LatitudeDegrees>{lat:.7f}</LatitudeDegrees>"
        f"<LongitudeDegrees>{lon:.7f}</LongitudeDegrees></Position>"
        f"<Extensions><TPX><Speed>{speed:.3f}</Speed><Watts>{power:.0f}</Watts></TPX></Extensions>"
        "</Trackpoint>"
        for t, lat, lon, power, speed in rows
    )
    return (
        "<TrainingCenterDatabase><Activities><Activity><Lap><Track>"
        f"{points}</Track></Lap></Activity></Activities></TrainingCenterDatabase>"
    )


@pytest.fixture(scope="module")
def ridden(moor):
    setup = RideSetup(rider=default_rider(), build=load_build(PLOVER), weather=default_weather())
    course = build_course(moor)
    return simulate(course=course, setup=setup, demand=constant_demand(course, setup.rider))


@pytest.fixture
def ride_csv(ridden, tmp_path):
    path = tmp_path / "ride.csv"
    path.write_text(as_csv(samples(ridden)), encoding="utf-8")
    return path


@pytest.fixture
def run(capsys):
    def call(*arguments):
        with pytest.raises(SystemExit) as left:
            main.run(["compare", *map(str, arguments)])
        out = capsys.readouterr()
        assert "Traceback" not in out.err
        return left.value.code, out.out, out.err

    return call


@pytest.mark.parametrize(
    ("name", "write"), [("r.csv", as_csv), ("r.gpx", as_gpx), ("r.tcx", as_tcx)]
)
def test_one_build_and_a_recording_are_a_review(run, moor, ridden, tmp_path, name, write):
    path = tmp_path / name
    path.write_text(write(samples(ridden)), encoding="utf-8")
    code, out, err = run("--course", moor, "--build", PLOVER, "--recorded", path)
    assert (code, err) == (0, "")
    assert max(map(len, out.splitlines())) <= 80
    told = " ".join(out.split())
    assert "the recorded ride took" in told
    assert "A predicted speed is never advice to ride it." in told
    for doubt in ("Wind", "Drag area CdA", "Rolling Crr", "Power meter", "Total mass"):
        assert doubt in told


def test_the_ride_that_was_recorded_comes_out(run, moor, ridden, ride_csv):
    code, out, _ = run("--course", moor, "--build", PLOVER, "--recorded", ride_csv, "--json")
    assert code == 0
    document = json.loads(out)
    assert document["schema"] == "buildgap/review"
    data = document["data"]
    assert set(data) == {"about", *data["about"]}
    assert data["predicted"]["time_s"] == pytest.approx(ridden.time_s, abs=1.0)
    assert data["gap_s"] == pytest.approx(0.0, abs=1.5)
    assert sum(place["gap_s"] for place in data["places"]) == pytest.approx(data["gap_s"], abs=1e-3)


def test_review_files_agree_and_nothing_is_replaced_unasked(run, moor, ride_csv, tmp_path):
    folder = tmp_path / "out"
    asked = ("--course", moor, "--build", GANNET, "--recorded", ride_csv, "--out", folder)
    code, out, _ = run(*asked)
    assert code == 0
    assert sorted(p.name for p in folder.iterdir()) == sorted(comparing.REVIEW_FILES)
    data = json.loads((folder / "review.json").read_text("utf-8"))["data"]
    with (folder / "review.csv").open(encoding="utf-8", newline="") as stream:
        last = list(csv.DictReader(stream))[-1]
    assert float(last["gap_s"]) == pytest.approx(data["gap_s"], abs=0.01)
    # Ridden on the Plover, predicted for the quicker Gannet.
    assert data["gap_s"] > 5.0
    assert "longer than predicted" in " ".join(out.split())
    # The page keeps a number and its unit on one line.
    page = (folder / "index.html").read_text("utf-8").replace("\N{NO-BREAK SPACE}", " ")
    assert data["sentence"] in page
    assert (folder / "review.png").read_bytes().startswith(b"\x89PNG")
    code, _, err = run(*asked)
    assert code == 2
    assert "--overwrite" in err


def test_beside_a_comparison_it_is_of_the_first_build(run, moor, ride_csv, tmp_path):
    folder = tmp_path / "out"
    builds = ("--build", PLOVER, "--build", GANNET)
    code, out, _ = run(
        "--course", moor, *builds, "--draws", 0, "--recorded", ride_csv, "--out", folder
    )
    assert code == 0
    told = " ".join(out.partition("\nPage: ")[0].split())
    assert "Before you trust it: On moor" in told
    assert "Gannet gains" in told
    names = {p.relative_to(folder).as_posix() for p in folder.rglob("*") if p.is_file()}
    assert names == {*comparing.FILES, *(f"review/{name}" for name in comparing.REVIEW_FILES)}
    page = (folder / "index.html").read_text("utf-8")
    assert 'href="review/index.html"' in page
    code, out, _ = run("--course", moor, *builds, "--draws", 0, "--recorded", ride_csv, "--json")
    data = json.loads(out)["data"]
    assert data["review"]["gap_s"] == pytest.approx(0.0, abs=1.5)
    assert data["gap_s"] < 0.0


def test_quiet_says_it_in_a_sentence(run, moor, ride_csv):
    code, out, _ = run("--course", moor, "--build", PLOVER, "--recorded", ride_csv, "-q")
    assert code == 0
    assert " ".join(out.split()).count(". ") == 0


def bad_recordings(ridden):
    rows = samples(ridden)
    yield "empty.csv", "", "empty"
    yield "text.csv", "hello\nworld\n", "time_s"
    yield (
        "powerless.csv",
        csv_text(["time_s", "lat_deg", "lon_deg"], [r[:3] for r in rows]),
        ("no power was recorded"),
    )
    away = [(t, lat + 1.0, lon, p, v) for t, lat, lon, p, v in rows]
    yield "away.csv", as_csv(away), "no part of it lies on the course"
    yield "short.csv", as_csv(rows[: len(rows) // 4]), "at least half"
    yield (
        "backwards.csv",
        as_csv([(t, *row[1:]) for (t, *_), row in zip(rows, reversed(rows), strict=True)]),
        "at least half",
    )
    yield "one.csv", as_csv(rows[:1]), "two samples"


@pytest.mark.parametrize("i", range(7))
def test_wrong_recordings_are_told_in_a_line(run, moor, ridden, tmp_path, i):
    name, text, found = list(bad_recordings(ridden))[i]
    path = tmp_path / name
    path.write_text(text, encoding="utf-8")
    folder = tmp_path / "out"
    code, out, err = run("--course", moor, "--build", PLOVER, "--recorded", path, "--out", folder)
    assert code == 2
    assert out == ""
    assert len(err.splitlines()) == 1
    assert name in err
    assert found in err
    assert not folder.exists()


def test_what_makes_no_sense_together_is_refused(run, moor, fell, ride_csv, tmp_path):
    one = ("--build", PLOVER, "--recorded", ride_csv)
    for more in (("--course", moor, "--power", 200), ("--course", moor, "--course", fell)):
        code, out, err = run(*more, *one)
        assert (code, out) == (2, "")
        assert "--recorded" in err
    code, _, err = run("--course", moor, "--build", PLOVER, "--recorded", tmp_path / "none.fit")
    assert code == 2
    assert "there is no such file" in err


WINDY = 'name = "{name}"\nwind_kmh = {{ value = {kmh}, sd = 3 }}\nwind_from_deg = 200\n'


@pytest.fixture
def days(tmp_path):
    paths = []
    for name, kmh in (("Calm", 5), ("Gale", 30)):
        paths.append(tmp_path / f"{name}.toml")
        paths[-1].write_text(WINDY.format(name=name, kmh=kmh), encoding="utf-8")
    return paths


def test_courses_times_weathers_make_a_table(run, moor, fell, days, tmp_path):
    folder = tmp_path / "out"
    builds = ("--build", GANNET, "--build", PLOVER)
    many = ("--course", moor, "--course", fell, "--weather", days[0], "--weather", days[1])
    code, out, err = run(*many, *builds, "--draws", 200, "--out", folder)
    assert (code, err) == (0, "")  # no progress bar where nobody watches
    told = out.partition("\nPage: ")[0]
    assert max(map(len, told.splitlines())) <= 80
    assert sorted(p.name for p in folder.iterdir()) == sorted(comparing.RACES_FILES)
    document = json.loads((folder / "races.json").read_text("utf-8"))
    assert document["schema"] == "buildgap/races"
    data = document["data"]
    names = [race["name"] for race in data["races"]]
    assert names == [
        f"{course}, {day}" for course in ("moor", "<b>fell") for day in ("Calm", "Gale")
    ]
    gaps_s = [race["cells"][0]["gap_s"] for race in data["races"]]
    assert data["totals"][0]["gap_s"] == pytest.approx(sum(gaps_s))
    assert all(race["cells"][0]["low_s"] < race["cells"][0]["high_s"] for race in data["races"])
    page = (folder / "index.html").read_text("utf-8")
    assert "<b>fell" not in page
    assert "&lt;b&gt;fell" in page
    with (folder / "races.csv").open(encoding="utf-8", newline="") as stream:
        rows = list(csv.DictReader(stream))
    assert [float(row["gap_s"]) for row in rows] == [*gaps_s, data["totals"][0]["gap_s"]]
    # Each cell is the comparison of its course and weather alone.
    code, out, _ = run("--course", fell, "--weather", days[1], *builds, "--draws", 0, "--json")
    assert json.loads(out)["data"]["gap_s"] == pytest.approx(gaps_s[3])


def test_one_course_in_two_weathers_is_named_by_the_weather(run, moor, days):
    builds = ("--build", GANNET, "--build", PLOVER)
    code, out, _ = run(
        "--course",
        moor,
        "--weather",
        days[0],
        "--weather",
        days[1],
        *builds,
        "--draws",
        0,
        "--json",
    )
    assert code == 0
    data = json.loads(out)["data"]
    assert [race["name"] for race in data["races"]] == ["Calm", "Gale"]
    assert data["races"][0]["cells"][0]["half_s"] is None


def test_many_builds_still_fit_eighty_columns(run, moor, fell, tmp_path):
    builds = []
    for i in range(7):
        path = tmp_path / f"b{i}.toml"
        path.write_text(
            f'name = "A build of a long name, number {i}"\nmass_kg = {7 + i}\ncda_m2 = 0.3\n'
            "crr = { value = 0.004, sd = 0.0003 }\n",
            encoding="utf-8",
        )
        builds += ["--build", path]
    code, out, _ = run("--course", moor, "--course", fell, *builds, "--draws", 200)
    assert code == 0
    assert max(map(len, out.splitlines())) <= 80
    assert out.count("  moor ") == 2
    assert "2 A build of" in out
    assert "7 A build of" in out


def test_a_wish_to_replace_results_of_races_must_be_said(run, moor, fell, tmp_path):
    folder = tmp_path / "out"
    folder.mkdir()
    (folder / "races.csv").write_text("mine", encoding="utf-8")
    builds = ("--build", GANNET, "--build", PLOVER)
    code, _, err = run("--course", moor, "--course", fell, *builds, "--out", folder)
    assert code == 2
    assert "races.csv" in err
    assert (folder / "races.csv").read_text("utf-8") == "mine"


@pytest.mark.parametrize("is_terminal", [True, False])
def test_a_bar_stands_on_a_terminal_only(run, moor, monkeypatch, is_terminal):
    class Stream(io.StringIO):
        def isatty(self):
            return is_terminal

    shown = Stream()
    monkeypatch.setattr(sys, "stderr", shown)
    code, out, _ = run("--course", moor, "--build", GANNET, "--build", PLOVER, "--draws", 200)
    assert code == 0
    assert "Gannet" in out
    assert ("Riding" in shown.getvalue()) == is_terminal
    if is_terminal:
        assert "3/3" in shown.getvalue()
        for silent in ("--quiet", "--json"):
            shown.seek(0)
            shown.truncate()
            run("--course", moor, "--build", GANNET, "--build", PLOVER, "--draws", 0, silent)
            assert shown.getvalue() == ""


def test_all_cores_ride():
    import numba

    assert numba.get_num_threads() == numba.config.NUMBA_NUM_THREADS == len(os.sched_getaffinity(0))

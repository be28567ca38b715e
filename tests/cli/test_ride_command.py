"""``buildgap ride`` from files to table, page, picture, CSV and JSON."""

import json
import re
from pathlib import Path

import pytest

from simulator.cli import main
from simulator.cli.riding import RIDE_FILES

ROOT = Path(__file__).parents[2]
CONFIGS, COURSES = ROOT / "configs", ROOT / "courses"
CLIMB, CRITERIUM = COURSES / "steady-climb", COURSES / "town-criterium"


@pytest.fixture
def buildgap(capsys):
    def run(*arguments):
        with pytest.raises(SystemExit) as left:
            main.run([str(argument) for argument in arguments])
        out = capsys.readouterr()
        assert "Traceback" not in out.err
        return left.value.code, out.out, out.err

    return run


@pytest.fixture
def ride(buildgap):
    def run(*arguments, course=CLIMB, build="plover.toml"):
        return buildgap("ride", "--course", course, "--build", CONFIGS / build, *arguments)

    return run


def time_in(out):
    clock = re.search(r"^  Time +([\d:.]+)$", out, re.M)[1]
    return sum(60.0**i * float(part) for i, part in enumerate(reversed(clock.split(":"))))


def test_a_course_and_a_build_are_enough(ride):
    code, out, err = ride()
    assert (code, err) == (0, "")
    assert max(map(len, out.splitlines())) <= 80
    for part in ("Ride", "Km", "Place", "Position", "Work", "never advice", "same on every build"):
        assert part in out
    assert 400.0 < time_in(out) < 1200.0


def test_more_power_is_faster_and_quiet_is_one_sentence(ride):
    times_s = [time_in(ride("--power", w)[1]) for w in (180, 250)]
    # A steep climb: time goes with one over power, less the little that air takes.
    assert times_s[0] / times_s[1] == pytest.approx(250.0 / 180.0, rel=0.05)
    code, out, _ = ride("--quiet")
    assert code == 0
    assert out.count("\n") <= 2
    assert out.startswith("On Steady climb, Default rider on Plover takes ")


def test_laps_are_listed_and_settle(ride):
    _, out, _ = ride("--laps", 4, course=CRITERIUM)
    rows = re.findall(r"^  Lap \d +[\d:.]+ +([\d:.]+)", out, re.M)
    assert len(rows) == 4
    assert rows[1] == rows[2] == rows[3] != rows[0]
    assert "from lap 2 on each takes" in " ".join(out.split())


def test_splits_of_a_wanted_length(ride):
    _, out, _ = ride("--split", 1.5)
    table = out.partition("\nKm ")[2].partition("\n\n")[0]
    assert re.findall(r"^  ([\d.]+) ", table, re.M) == ["1.5", "3.0", "3.3"]
    assert ride("--split", 0)[0] == 2
    # 3.3 km in hundreds of metres: more rows than a table made unasked may have.
    _, out, _ = ride("--split", 0.1)
    table = out.partition("\nKm ")[2].partition("\n\n")[0]
    assert len(table.splitlines()) > 30


def test_the_only_corner_is_not_called_the_slowest(ride):
    _, out, _ = ride(course=COURSES / "windy-out-and-back")
    assert "One corner holds the ride up: Left hairpin at " in " ".join(out.split())


def test_every_file_is_written_and_none_replaced_unasked(ride, tmp_path):
    folder = tmp_path / "out"
    code, out, _ = ride("--out", folder)
    assert code == 0
    assert {path.name for path in folder.iterdir()} == set(RIDE_FILES)
    assert str(folder / "index.html") in out.replace("\n", "")
    before = {path.name: path.read_bytes() for path in folder.iterdir()}
    code, _, err = ride("--out", folder)
    assert code == 2
    assert "exists already" in err
    # The same ride gives the same bytes.
    assert ride("--out", folder, "--overwrite")[0] == 0
    assert {path.name: path.read_bytes() for path in folder.iterdir()} == before


def test_json_and_csv_go_to_the_screen_alone(ride):
    _, out, _ = ride("--json")
    document = json.loads(out)
    assert document["schema"] == "buildgap/ride"
    _, out, _ = ride("--csv")
    assert out.startswith("# course.name = Steady climb\n")
    head, _, table = out.partition("\nlap,")
    assert all(line.startswith("# ") for line in head.splitlines())
    assert len(table.splitlines()) == len(document["data"]["segments"]["lap"]) + 1
    code, _, err = ride("--json", "--csv")
    assert code == 2
    assert "`--out FOLDER` writes both" in err


@pytest.mark.parametrize("name", ["pacing.toml", "pacing/replay.toml", "pacing/even-reserve.toml"])
def test_pacing_files_are_ridden(ride, name):
    course, rider = COURSES / "three-hills", CONFIGS / "rider.toml"
    code, out, err = ride("--pacing", CONFIGS / name, "--rider", rider, course=course)
    assert (code, err) == (0, "")
    assert "pacing “" in " ".join(out.split())
    if name == "pacing.toml":
        assert re.search(r"Mean power +235 W", out)  # its target


def test_power_is_what_the_rules_start_from(ride, tmp_path):
    plan = tmp_path / "plan.toml"
    plan.write_text('name = "x"\n[[rule]]\nkind = "limits"\ncap_w = 900\n', encoding="utf-8")
    times_s = [time_in(ride("--pacing", plan, "--power", w)[1]) for w in (180, 250)]
    assert times_s[0] > 1.3 * times_s[1]


def test_turning_weather_and_a_long_day_are_ridden_and_shown(ride, tmp_path):
    weather, rider = CONFIGS / "weather-turning.toml", CONFIGS / "rider-long-day.toml"
    code, out, _ = ride("--weather", weather, "--rider", rider, "--out", tmp_path / "out")
    assert code == 0
    assert "wind 10 km/h from 180°, changing" in " ".join(out.split())
    data = json.loads((tmp_path / "out" / "ride.json").read_text(encoding="utf-8"))["data"]
    assert data["changes"]["wind_times_s"] == [0.0, 3600.0, 7200.0]
    rows = {row["label"]: row["first_text"] for row in data["inputs"]}
    assert rows["Wind later on"].startswith("after 1:00:00 16 km/h from 220°")
    assert rows["This pressure is"] == "as at the station"
    assert rows["Level of caution"] == "careful, but for lean_deg, pedal_lean_deg, braking_g"


def test_wrong_wishes_are_told(ride, buildgap, tmp_path):
    code, _, err = ride("--build", CONFIGS / "gannet.toml")
    assert code == 2
    assert "buildgap compare" in err
    code, _, err = ride("--pacing", tmp_path / "gone.toml")
    assert code == 2
    assert "gone.toml" in err
    (tmp_path / "file").write_text("", encoding="utf-8")
    code, _, err = ride("--out", tmp_path / "file")
    assert code == 2
    assert "there is a file of this name" in err


def test_a_rider_who_cannot_go_on_is_an_answer(ride, tmp_path):
    wall = tmp_path / "storm.toml"
    wall.write_text("wind_kmh = 120\nwind_from_deg = 255\n", encoding="utf-8")
    code, out, err = ride("--power", 20, "--weather", wall, course=COURSES / "windy-out-and-back")
    assert code == 3
    assert out == ""
    assert "cannot pass km" in err


def test_compare_takes_a_pacing_file(buildgap):
    builds = [
        part for name in ("gannet", "plover") for part in ("--build", CONFIGS / f"{name}.toml")
    ]
    pacing = ("--pacing", CONFIGS / "pacing.toml")
    rider = ("--rider", CONFIGS / "rider.toml")
    code, out, err = buildgap("compare", "--course", CLIMB, *builds, *pacing, *rider, "--draws", 0)
    assert (code, err) == (0, "")
    assert "pacing “Harder up, easier down”" in " ".join(out.split())


def test_gusts_widen_the_doubt_of_a_comparison_but_change_no_time(buildgap, tmp_path):
    builds = [
        part for name in ("gannet", "plover") for part in ("--build", CONFIGS / f"{name}.toml")
    ]
    shown = []
    for gust in ("", "gust_kmh = 90\n"):
        path = tmp_path / "weather.toml"
        text = f"wind_kmh = 30\nwind_from_deg = 255\n{gust}"
        path.write_text(text, encoding="utf-8")
        course = ("--course", COURSES / "windy-out-and-back")
        words = ("compare", *course, *builds, "--weather", path, "--draws", 500, "--json")
        _, out, _ = buildgap(*words)
        shown.append(json.loads(out)["data"])
    still, gusty = shown
    assert gusty["gap_s"] == still["gap_s"]
    assert gusty["first"]["time_s"] == still["first"]["time_s"]
    assert gusty["doubt"]["sd_s"] > still["doubt"]["sd_s"]

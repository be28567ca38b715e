"""``--units imperial``: nothing metric is left in what is shown; files for machines stay."""

import html
import json
import re
from pathlib import Path

import numpy as np
import pytest

from simulator.cli import main
from simulator.files import csv_text
from simulator.report import style

ROOT = Path(__file__).parents[2]
CONFIGS, COURSES = ROOT / "configs", ROOT / "courses"
CLIMB, CRITERIUM = COURSES / "steady-climb", COURSES / "town-criterium"
BUILDS = ["--build", CONFIGS / "gannet.toml", "--build", CONFIGS / "plover.toml"]
ONE = ["--build", CONFIGS / "plover.toml"]
RIDER = ["--rider", CONFIGS / "rider.toml"]
WEATHER = ["--weather", CONFIGS / "weather.toml"]
TURNING = ["--weather", CONFIGS / "weather-turning.toml"]
YEAR = ROOT / "tests" / "setup" / "data" / "june_afternoons.epw"
SLOW = pytest.mark.slow

COMMANDS = {
    "compare": ["compare", "--course", CLIMB, *BUILDS, *RIDER, *TURNING, "--draws", 200],
    "ride laps": ["ride", "--course", CRITERIUM, *ONE, *RIDER, *WEATHER, "--laps", 3],
    "bunch": [
        "bunch", "--course", CRITERIUM, *BUILDS, *RIDER, *WEATHER, "--power", 420, "--draws", 0,
        "--laps", 3,
    ],
    "spend": [
        "spend", *ONE, "--target", CONFIGS / "gannet.toml", "--parts", CONFIGS / "parts.toml",
        "--course", CLIMB, "--budget", 0, "--draws", 0,
    ],
    "verdict": ["fieldtest", "verdict", CONFIGS / "fieldtest" / "two-climbs.toml"],
}  # fmt: skip
SLOW_COMMANDS = {
    "compare laps": ["compare", "--course", CRITERIUM, *BUILDS, *RIDER, *WEATHER, "--draws", 0],
    "line-up": ["compare", "--course", CLIMB, *BUILDS, *ONE, *WEATHER, "--draws", 0],
    "races": [
        "compare",
        "--course",
        CLIMB,
        "--course",
        COURSES / "windy-out-and-back",
        *BUILDS,
        *WEATHER,
        "--draws",
        0,
    ],
    "ride": ["ride", "--course", CLIMB, *ONE, *RIDER, *TURNING],
    "bunch climb": ["bunch", "--course", CLIMB, *BUILDS, *RIDER, "--power", 420, "--draws", 0],
    "try": [
        "powerplan",
        "try",
        "--course",
        CLIMB,
        *ONE,
        *RIDER,
        *WEATHER,
        "--pacing",
        CONFIGS / "pacing.toml",
    ],
    "demo": ["demo"],
    "infer": ["fieldtest", "infer", CONFIGS / "fieldtest" / "testday.toml"],
    "runs": ["fieldtest", "runs", CONFIGS / "fieldtest" / "runs.toml"],
    "solve": ["powerplan", "solve", "--course", CLIMB, *ONE, *RIDER, *WEATHER, *TURNING],
    "card": ["powerplan", "card", "--course", CLIMB, *ONE, *RIDER, *WEATHER],
}
WITHOUT_FILES = {
    "course check": ["course", "check", COURSES / "three-hills", "--all-corners"],
    "weather": ["weather", YEAR, "--month", 6, "--hour", 14],
    "check": ["check", CONFIGS / "plover.toml", *RIDER[1:], *WEATHER[1:], CRITERIUM, YEAR],
}

METRIC_UNIT = re.compile(r"\bk(?:m|g)\b|km/h|m/s\b|°C|\b(?:kilo)?metres?\b|(?<![\w.'′])m\b")
IMPERIAL_UNIT = re.compile(r"\b(?:mi|mph|lb|ft|miles?|feet)\b|°F")
KEPT = ("kg m²", "W/kg")
"""Units that the trade knows under no other name."""


@pytest.fixture
def buildgap(capsys):
    def run(arguments, units):
        with pytest.raises(SystemExit) as left:
            main.run([str(x) for x in (*arguments, "--units", units)])
        out = capsys.readouterr()
        return left.value.code, out.out, out.err

    return run


@pytest.fixture(autouse=True)
def pictures_with_letters(monkeypatch):
    """Words in SVG files as words, so that they can be read."""
    monkeypatch.setitem(style._SETTINGS, "svg.fonttype", "none")


def words_of(path):
    """What a reader sees (or hears read aloud) of a page or picture."""
    text = path.read_text(encoding="utf-8")
    if path.suffix == ".svg":
        return "\n".join(re.findall(r"<text[^>]*>([^<]*)</text>", text))
    for hidden in (
        r"<script.*?</script>",
        r"<style.*?</style>",
        r'src="data:[^"]*"',
        r' d="[^"]*"',
    ):
        text = re.sub(hidden, "", text, flags=re.S)
    said = re.findall(r'(?:aria-label|title|alt|content)="([^"]*)"', text)
    return html.unescape("\n".join([re.sub(r"<[^>]*>", "\n", text), *said]))


def found(pattern, text):
    for kept in KEPT:
        text = text.replace(kept, "")
    return [line for line in text.splitlines() if pattern.search(line)]


def assert_shown_in_one_system(buildgap, arguments, folder):
    """Run in both units; give back the two folders."""
    folders = {}
    for units, foreign in (("metric", IMPERIAL_UNIT), ("imperial", METRIC_UNIT)):
        at, own = folder / units, METRIC_UNIT if units == "metric" else IMPERIAL_UNIT
        code, out, err = buildgap([*arguments, "--out", at], units)
        assert (code, err) == (0, "")
        text = out.replace(str(at), "OUT")
        pages = [words_of(path) for path in at.rglob("*.html")]
        assert found(own, "\n".join([text, *pages])) or arguments[:2] == ["fieldtest", "runs"]
        assert found(foreign, text) == []
        assert [line for line in text.splitlines() if len(line) > 80 and "OUT" not in line] == []
        for path in sorted(at.rglob("*")):
            if path.suffix in (".html", ".svg"):
                assert found(foreign, words_of(path)) == [], path.name
        folders[units] = at
    return folders["metric"], folders["imperial"]


def assert_files_for_machines_stay(metric, imperial):
    """JSON, CSV and TOML byte for byte."""
    paths = [p for p in metric.rglob("*") if p.suffix in (".json", ".csv", ".toml")]
    assert paths
    for path in paths:
        name = path.relative_to(metric)
        assert path.read_bytes() == (imperial / name).read_bytes(), name
    listed = {p.relative_to(imperial) for p in imperial.rglob("*")}
    assert listed == {p.relative_to(metric) for p in metric.rglob("*")}


@pytest.mark.parametrize(
    "name", [*COMMANDS, *(pytest.param(name, marks=SLOW) for name in SLOW_COMMANDS)]
)
def test_nothing_metric_is_left_and_files_for_machines_stay(buildgap, tmp_path, name):
    arguments = {**COMMANDS, **SLOW_COMMANDS}[name]
    metric, imperial = assert_shown_in_one_system(buildgap, arguments, tmp_path)
    assert_files_for_machines_stay(metric, imperial)


@pytest.fixture
def recording(buildgap, tmp_path):
    """A ride of the climb as a device would have recorded it, on a windier day."""
    gale = tmp_path / "gale.toml"
    gale.write_text("wind_kmh = 30\nwind_from_deg = 200\n", encoding="utf-8")
    code, out, _ = buildgap(
        ["ride", "--course", CLIMB, *ONE, "--weather", gale, "--json"], "metric"
    )
    assert code == 0
    data = json.loads(out)["data"]
    nodes, powers_w = data["nodes"], data["segments"]["power_w"]
    seconds = np.arange(0.0, data["time_s"])
    columns = {
        "time_s": seconds,
        **{
            name: np.interp(seconds, nodes["time_s"], nodes[name])
            for name in ("lat_deg", "lon_deg", "speed_mps")
        },
        "power_w": np.interp(seconds, nodes["time_s"][1:], powers_w),
    }
    path = tmp_path / "recorded.csv"
    path.write_text(csv_text(list(columns), zip(*columns.values(), strict=True)), encoding="utf-8")
    return path


@pytest.mark.slow
def test_a_recorded_ride_beside_the_predicted_one(buildgap, tmp_path, recording):
    arguments = ["compare", "--course", CLIMB, *BUILDS, *WEATHER, "--draws", 0]
    arguments += ["--recorded", recording]
    metric, imperial = assert_shown_in_one_system(buildgap, arguments, tmp_path / "out")
    assert_files_for_machines_stay(metric, imperial)
    assert (imperial / "review" / "index.html").exists()


@pytest.mark.parametrize("name", WITHOUT_FILES)
def test_nothing_metric_is_left_in_the_terminal(buildgap, name):
    for units, foreign in (("metric", IMPERIAL_UNIT), ("imperial", METRIC_UNIT)):
        code, out, err = buildgap(WITHOUT_FILES[name], units)
        assert (code, err) == (0, "")
        assert found(foreign, out) == []
        if name != "check":  # its lines begin with paths of any length
            assert [line for line in out.splitlines() if len(line) > 80] == []


def test_the_picture_of_a_course(buildgap, tmp_path):
    picture = tmp_path / "course.svg"
    arguments = ["course", "draw", CLIMB, "--out", picture, "--wind-from", 240]
    assert buildgap(arguments, "imperial")[0] == 0
    shown = words_of(picture)
    assert "Distance, mi" in shown
    assert "Height, ft" in shown
    assert found(METRIC_UNIT, shown) == []


def test_json_of_a_course_and_of_a_ride_on_the_terminal_stays(buildgap):
    for arguments in (
        ["course", "check", CLIMB, "--json"],
        ["ride", "--course", CLIMB, *ONE, "--json"],
    ):
        outs = [buildgap(arguments, units)[1] for units in ("metric", "imperial")]
        assert outs[0] == outs[1]
        assert outs[0].startswith("{")


def test_a_ride_that_cannot_be_finished_is_told_in_these_units(buildgap, tmp_path):
    storm = tmp_path / "storm.toml"
    storm.write_text("wind_kmh = 120\nwind_from_deg = 255\n", encoding="utf-8")
    arguments = ["ride", "--course", COURSES / "three-hills", *ONE, "--weather", storm]
    told = {}
    for units in ("metric", "imperial"):
        code, _, told[units] = buildgap([*arguments, "--power", 60], units)
        assert code == 3
    km = float(re.search(r"cannot pass km ([\d.]+)", told["metric"])[1])
    mile = float(re.search(r"cannot pass mile ([\d.]+)", told["imperial"])[1])
    assert km == pytest.approx(1.609344 * mile, abs=0.02)
    assert re.search(r"head wind [−\d]+ mph", told["imperial"])
    assert found(METRIC_UNIT, told["imperial"]) == []


def test_splits_are_as_long_as_asked_for_in_these_units(buildgap):
    _, out, _ = buildgap(["ride", "--course", CLIMB, *ONE, "--split", 0.5], "imperial")
    rows = re.findall(r"(?m)^  (\d\.\d\d) +\d+:", out)
    assert rows[:3] == ["0.50", "1.00", "1.50"]


def test_units_of_another_name_are_refused(buildgap):
    code, _, err = buildgap(["course", "check", CLIMB], "furlongs")
    assert code == 2
    assert "'furlongs' is not one of 'metric', 'imperial'" in err

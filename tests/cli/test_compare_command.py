"""``buildgap compare`` from files to table, page, pictures, CSV and JSON."""

import csv
import json
import math
import re
from pathlib import Path

import pytest

from simulator.cli import comparing, main
from simulator.report import folder_names

CONFIGS = Path(__file__).parents[2] / "configs"
PLOVER, GANNET = CONFIGS / "plover.toml", CONFIGS / "gannet.toml"
EXACT = 'name = "{name}"\nmass_kg = {mass}\ncda_m2 = 0.31\ncrr = 0.004\n'


def track(name="Moor loop", n=240):
    """A round hill of three kilometres on the open sea."""
    points = []
    for i in range(n):
        angle = 2.0 * math.pi * i / (n - 1)
        lat = 44.5 + 480.0 * math.cos(angle) / 111_195.0
        lon = -35.5 + 480.0 * math.sin(angle) / (111_195.0 * math.cos(math.radians(44.5)))
        height = 40.0 - 35.0 * math.cos(angle)
        points.append(f'<trkpt lat="{lat:.7f}" lon="{lon:.7f}"><ele>{height:.2f}</ele></trkpt>')
    return (
        '<?xml version="1.0"?><gpx version="1.1" creator="x" '
        'xmlns="http://www.topografix.com/GPX/1/1"><trk>'
        f"<name>{name}</name><trkseg>{''.join(points)}</trkseg></trk></gpx>"
    )


@pytest.fixture
def course(tmp_path):
    path = tmp_path / "moor.gpx"
    path.write_text(track(), encoding="utf-8")
    return path


@pytest.fixture
def compare(capsys, course):
    def run(*arguments, builds=(GANNET, PLOVER), course_path=course):
        named = [part for build in builds for part in ("--build", str(build))]
        words = ["compare", "--course", str(course_path), *named, *map(str, arguments)]
        with pytest.raises(SystemExit) as left:
            main.run(words)
        out = capsys.readouterr()
        assert "Traceback" not in out.err
        return left.value.code, out.out, out.err

    return run


def test_two_build_files_and_a_bare_track_are_enough(compare):
    code, out, err = compare("--draws", 200)
    assert (code, err) == (0, "")
    assert max(map(len, out.splitlines())) <= 80
    sentence = " ".join(out.split())
    assert re.search(r"On \S+, Plover gives away .* to Gannet", sentence)
    assert "A predicted speed is never advice to ride it." in sentence


def test_what_stands_in_for_rider_and_weather_is_told(compare):
    _, out, _ = compare("--draws", 0)
    text = " ".join(out.split())
    assert "No rider was given: one of 75 kg, with 3 kg carried, is taken." in text
    assert "No weather was given: 15 °C, no wind and a dry road are taken." in text
    _, out, _ = compare("--draws", 0, "--rider", CONFIGS / "rider.toml", "--units", "imperial")
    assert "No rider" not in out
    assert "No weather was given: 59 °F" in out


def test_a_file_without_a_name_is_not_called_default_or_calm(compare, tmp_path):
    (tmp_path / "day.toml").write_text("wind_kmh = 25\nwind_from_deg = 90\n", encoding="utf-8")
    (tmp_path / "me.toml").write_text("power_w = 210\n", encoding="utf-8")
    given = ("--weather", tmp_path / "day.toml", "--rider", tmp_path / "me.toml")
    _, out, _ = compare("--draws", 0, "--json", *given)
    for wrong in ("Calm standard day", "Default rider"):
        assert wrong not in out
    assert "Windy day" in out
    assert "The rider" in out


def test_why_there_is_no_doubt_is_told_as_it_is(compare):
    _, out, _ = compare("--draws", 0)
    assert "No draws were made" in out
    assert "No input carries" not in out


@pytest.mark.parametrize(
    ("option", "name", "kind"),
    [
        ("--rider", "plover.toml", "a build, which goes with `--build`"),
        ("--weather", "rider.toml", "a rider, which goes with `--rider`"),
        ("--pacing", "weather.toml", "a weather, which goes with `--weather`"),
        ("--build", "pacing.toml", "a pacing, which goes with `--pacing`"),
        ("--build", "parts.toml", "a catalogue of parts, which goes with `--parts`"),
    ],
)
def test_a_file_given_to_the_wrong_option_is_recognised(compare, option, name, kind):
    code, _, err = compare("--draws", 0, option, CONFIGS / name)
    assert code == 2
    assert err.splitlines()[-1].endswith(f"{name}: its keys are those of {kind}.")


def test_a_wrong_key_alone_makes_no_other_kind_of_a_file(compare, tmp_path):
    path = tmp_path / "rider.toml"
    path.write_text("mass_kg = 70\ncp_w = 280\nwheel = 3\n", encoding="utf-8")
    _, _, err = compare("--draws", 0, "--rider", path)
    assert "key `wheel`" in err
    assert "its keys are those of" not in err


def test_quiet_prints_the_sentence_alone(compare):
    code, out, err = compare("--draws", 0, "--quiet")
    assert (code, err) == (0, "")
    assert out.startswith("On ")
    assert " ".join(out.split()).count(". ") == 0


def test_all_files_are_written_and_agree(compare, tmp_path):
    folder = tmp_path / "out" / "deep"
    code, out, _ = compare("--draws", 200, "--out", folder)
    assert code == 0
    assert sorted(path.name for path in folder.iterdir()) == sorted(comparing.FILES)
    assert str(folder / "index.html") in out
    data = json.loads((folder / "comparison.json").read_text("utf-8"))["data"]
    with (folder / "gap.csv").open(encoding="utf-8", newline="") as stream:
        last = list(csv.DictReader(stream))[-1]
    assert float(last["gap_s"]) == pytest.approx(data["gap_s"], abs=1e-4)
    assert data["sentence"] in " ".join(out.split())
    assert sum(row["gap_s"] for row in data["causes"]) == pytest.approx(data["gap_s"], abs=1e-6)
    assert (folder / "gap.png").read_bytes().startswith(b"\x89PNG")
    page = (folder / "index.html").read_text("utf-8")
    # The page marks names, and keeps a number and its unit on one line.
    for marked in ('<span class="name other">', '<span class="name first">', "</span>"):
        page = page.replace(marked, "")
    assert data["sentence"].split(";")[0] in page.replace("\N{NO-BREAK SPACE}", " ")


def test_the_same_call_writes_the_same_bytes(compare, tmp_path):
    for name in ("one", "two"):
        code, _, _ = compare("--draws", 200, "--seed", 7, "--out", tmp_path / name)
        assert code == 0
    for name in comparing.FILES:
        one, two = ((tmp_path / side / name).read_bytes() for side in ("one", "two"))
        assert one == two, name


def test_nothing_is_replaced_unasked(compare, tmp_path):
    folder = tmp_path / "out"
    folder.mkdir()
    (folder / "gap.png").write_text("mine", encoding="utf-8")
    code, out, err = compare("--draws", 0, "--out", folder)
    assert code == 2
    assert out == ""
    assert "gap.png: the file exists already" in err
    assert "--overwrite" in err
    assert [path.name for path in folder.iterdir()] == ["gap.png"]
    code, _, _ = compare("--draws", 0, "--out", folder, "--overwrite")
    assert code == 0
    assert (folder / "gap.png").read_bytes().startswith(b"\x89PNG")


def test_a_file_in_the_place_of_the_folder_is_told(compare, tmp_path):
    (tmp_path / "out").write_text("mine", encoding="utf-8")
    code, _, err = compare("--draws", 0, "--out", tmp_path / "out")
    assert code == 2
    assert "there is a file of this name" in err


def test_json_is_all_that_stdout_holds(compare):
    code, out, err = compare("--draws", 0, "--json")
    assert (code, err) == (0, "")
    document = json.loads(out)
    assert document["schema"] == "buildgap/compare"
    assert document["data"]["doubt"] is None


def test_turning_the_builds_round_turns_the_gap_round(compare):
    gaps = []
    for builds in ((GANNET, PLOVER), (PLOVER, GANNET)):
        _, out, _ = compare("--draws", 0, "--json", builds=builds)
        gaps.append(json.loads(out)["data"])
    assert gaps[0]["gap_s"] == pytest.approx(-gaps[1]["gap_s"], abs=1e-9)
    assert "gives away" in gaps[0]["sentence"]
    assert "gains" in gaps[1]["sentence"]


def test_power_and_laps_are_taken(compare):
    _, out, _ = compare("--draws", 0, "--json", "--power", 300, "--laps", 3)
    data = json.loads(out)["data"]
    assert data["course"]["n_laps"] == 3
    assert "300 W" in data["pacing"]
    assert len(data["laps"]) == 3
    assert sum(lap["gap_s"] for lap in data["laps"]) == pytest.approx(data["gap_s"], abs=1e-6)


def test_exact_builds_tie_and_say_that_nothing_is_in_doubt(compare, tmp_path):
    paths = []
    for name in ("one", "two"):
        paths.append(tmp_path / f"{name}.toml")
        paths[-1].write_text(EXACT.format(name=name, mass=8.0), encoding="utf-8")
    code, out, _ = compare("--draws", 0, builds=paths)
    assert code == 0
    assert "two and one tie" in " ".join(out.split())


def test_builds_of_one_name_are_told_apart_by_their_files(compare, tmp_path):
    paths = []
    for name, mass in (("light", 7.0), ("heavy", 9.0)):
        paths.append(tmp_path / f"{name}.toml")
        paths[-1].write_text(EXACT.format(name="Mine", mass=mass), encoding="utf-8")
    _, out, _ = compare("--draws", 0, "--quiet", builds=paths)
    assert "Mine (heavy) gives away" in " ".join(out.split())


@pytest.mark.parametrize("builds", [(), (PLOVER,)])
def test_fewer_than_two_builds_are_told(compare, builds):
    code, out, err = compare(builds=builds)
    assert code == 2
    assert out == ""
    assert "--build" in err


@pytest.mark.parametrize("draws", ["1", "199", "-5", "many"])
def test_draws_too_few_to_tell_anything_are_refused(compare, draws):
    code, out, err = compare("--draws", draws)
    assert code == 2
    assert out == ""
    assert "--draws" in err


def test_a_missing_file_is_one_sentence(compare, tmp_path):
    code, out, err = compare(builds=(PLOVER, tmp_path / "none.toml"))
    assert code == 2
    assert out == ""
    assert len(err.splitlines()) == 1
    assert "none.toml" in err


def test_markup_in_the_name_of_a_build_stays_text(compare, tmp_path):
    path = tmp_path / "odd.toml"
    odd = EXACT.format(name="<script>alert(1)</script>", mass=8.0)
    path.write_text(odd, encoding="utf-8")
    folder = tmp_path / "out"
    code, _, _ = compare("--draws", 0, "--out", folder, builds=(GANNET, path))
    assert code == 0
    text = (folder / "index.html").read_text("utf-8")
    assert "<script>alert" not in text
    assert "&lt;script&gt;alert(1)" in text


def test_three_builds_give_a_line_up_and_a_folder_each(compare, tmp_path):
    path = tmp_path / "heron.toml"
    text = EXACT.format(name="Heron", mass="{ value = 7.5, sd = 0.1 }")
    path.write_text(text, encoding="utf-8")
    folder = tmp_path / "out"
    code, out, _ = compare("--draws", 200, "--out", folder, builds=(GANNET, PLOVER, path))
    assert code == 0
    told = out.partition("\nPage: ")[0]  # the folder's own name may be longer
    assert max(map(len, told.splitlines())) <= 80
    assert "is the fastest of three builds" in " ".join(out.split())
    assert {p.name for p in folder.iterdir()} == {*comparing.LINEUP_FILES, "2-plover", "3-heron"}
    for name in ("2-plover", "3-heron"):
        assert sorted(p.name for p in (folder / name).iterdir()) == sorted(comparing.FILES)
        assert f'href="{name}/index.html"' in (folder / "index.html").read_text("utf-8")
    rows = json.loads((folder / "lineup.json").read_text("utf-8"))["data"]["rows"]
    pair = json.loads((folder / "2-plover" / "comparison.json").read_text("utf-8"))["data"]
    assert [row["name"] for row in rows] == ["Gannet", "Plover", "Heron"]
    assert rows[1]["gap_s"] == pair["gap_s"]
    assert sum(rows[1]["where_s"]) == pytest.approx(pair["gap_s"], abs=1e-6)


def test_an_exact_build_may_meet_an_uncertain_one(compare, tmp_path):
    path = tmp_path / "exact.toml"
    path.write_text(EXACT.format(name="Exact", mass=8.0), encoding="utf-8")
    code, out, _ = compare("--draws", 200, "--json", builds=(GANNET, path))
    assert code == 0
    assert json.loads(out)["data"]["doubt"]["n_draws"] == 200


def test_folder_names_are_plain_and_differ():
    names = folder_names(["../../etc", "A/B", "A B", "", "自行车"])
    assert names == ["2-etc", "3-a-b", "4-a-b", "5-build", "6-build"]

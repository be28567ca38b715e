"""``buildgap check`` knows every kind of file by its content and says what to mend."""

import importlib
import re
import shutil
from pathlib import Path

import pytest

from simulator.cli import main
from simulator.cli.filekinds import KEYS

CONFIGS = Path(__file__).parents[2] / "configs"
MINIMAL = 'name = "Bare"\nmass_kg = 8\ncda_m2 = 0.31\ncrr = 0.004\n'


def gpx(heights=True):
    points = "".join(
        f'<trkpt lat="{45 + i * 1e-4:.6f}" lon="-30">'
        + (f"<ele>{20 + 0.2 * i:.1f}</ele>" if heights else "")
        + "</trkpt>"
        for i in range(120)
    )
    return (
        '<?xml version="1.0"?><gpx version="1.1" creator="x" '
        f'xmlns="http://www.topografix.com/GPX/1/1"><trk><trkseg>{points}</trkseg></trk></gpx>'
    )


@pytest.fixture
def check(capsys):
    def run(*arguments):
        with pytest.raises(SystemExit) as left:
            main.run(["check", *map(str, arguments)])
        out = capsys.readouterr()
        assert "Traceback" not in out.err
        return left.value.code, out.out, out.err

    return run


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("plover.toml", "build Plover: 8.6 kg, CdA 0.315 m², Crr 0.0045"),
        ("gannet.toml", "build Gannet"),
        ("rider.toml", "rider Edda Marl: 72 kg and 3 kg carried, 240 W"),
        ("weather.toml", "wind 18 km/h from 255°, road dry"),
        ("parts.toml", "catalogue: "),
        ("pacing.toml", "pacing Harder up, easier down: "),
        ("bunch.toml", "bunch Club criterium: place 8"),
    ],
)
def test_shipped_examples_under_any_name(check, tmp_path, name, words):
    path = shutil.copy(CONFIGS / name, tmp_path / "thing.txt")
    code, out, err = check(path)
    assert (code, err) == (0, "")
    assert out.startswith(f"{path}: sound; ")
    assert words in out


def test_track_and_course_folder(check, tmp_path):
    (tmp_path / "track.gpx").write_text(gpx(), encoding="utf-8")
    (tmp_path / "course.toml").write_text('name = "Moor road"\n', encoding="utf-8")
    code, out, err = check(tmp_path / "track.gpx", tmp_path, tmp_path / "course.toml")
    assert (code, err) == (0, "")
    # 119 steps of 0.0001 degrees of latitude: 119 x 11.114 m (111141.5 m a degree at 45 to 46°,
    # WGS84) = 1.32 km, rising 0.2 m each.
    assert out.count("1.32 km, 24 m of climbing, 0 corners") == 3
    assert out.count("course Moor road") == 2


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("configs/spend.toml", "plan: budgets 500, 1000, 1500, 2500; 3 races"),
        ("configs/fieldtest/testday.toml", "test day Gull Moor test day: 24 runs of Gannet and"),
        ("configs/fieldtest/two-climbs.toml", "times of Plover light and Plover on 2 stretches"),
        ("configs/fieldtest/runs.toml", "plan of runs Gull Moor, what to ride: 4 kinds of run"),
        ("courses/town-criterium/zones.geojson", "zones: 3 polygons (Harbour houses,"),
        ("courses/tiles/N44W036.hgt.zip", "elevation tile: from 0 m to 291 m, a post every 93 m"),
        ("tests/setup/data/june_afternoons.epw", "in June at 14:00 usually 4.7 km/h from 155°"),
    ],
)
def test_files_that_name_others_or_lie_in_folders(check, name, words):
    code, out, err = check(CONFIGS.parent / name)
    assert (code, err) == (0, "")
    assert words in out


def test_missing_tables_are_told_as_tables(check, tmp_path):
    (tmp_path / "day.toml").write_text("name = 'x'\n[[run]]\nroad = 'hill'\n", encoding="utf-8")
    code, _, err = check(tmp_path / "day.toml")
    assert code == 2
    assert "key `run[1].build`: the key is missing" in err
    assert (
        "key `road`: the key is missing; expected roads between gates; add a table [[road]]" in err
    )
    assert "Traceback" not in err


def test_recordings(check, tmp_path):
    rows = "".join(f"{i},{45 + i * 8e-5:.6f},-30,{9 * i},{200 + i}\n" for i in range(61))
    (tmp_path / "ride.txt").write_text("time_s,lat_deg,lon_deg,distance_m,power_w\n" + rows)
    points = "".join(
        f"<Trackpoint><Time>2026-06-01T10:00:{i:02d}Z</Time><DistanceMeters>{9 * i}"
        "</DistanceMeters></Trackpoint>"
        for i in range(60)
    )
    (tmp_path / "ride.xml").write_text(f"<TrainingCenterDatabase>{points}</TrainingCenterDatabase>")
    code, out, err = check(tmp_path / "ride.txt", tmp_path / "ride.xml")
    assert (code, err) == (0, "")
    assert "recording (CSV): 61 samples in 1 min, with power and positions" in out
    assert "recording (TCX): 60 samples in 1 min, with neither power nor positions" in out


def test_recording_with_tabs_is_one_and_keys_set_off_by_tabs_are_not(check, tmp_path):
    tabs = tmp_path / "tabs.txt"
    tabs.write_text("time_s\tdistance_m\n0\t0\n1\t8\n2\t16\n", encoding="utf-8")
    assert "recording (CSV): 3 samples" in check(tabs)[1]
    keys = tmp_path / "keys.txt"
    keys.write_text("time\t= 3\n", encoding="utf-8")
    assert "no key tells what this file is (`time`)" in check(keys)[2]


def test_what_many_recordings_of_a_test_day_share_is_told_once(check, capsys, tmp_path):
    rows = "".join(f"{i},{45 + i * 8e-5:.6f},-30,{28.8 + 0.1 * (i % 2)},250\n" for i in range(61))
    names = [f"run{i}.csv" for i in range(1, 6)]
    for name in names:
        (tmp_path / name).write_text("time_s,lat_deg,lon_deg,speed_kmh,power_w\n" + rows)
    (tmp_path / "bare.toml").write_text(MINIMAL, encoding="utf-8")
    runs = "".join(
        f'[[run]]\nbuild = "Bare"\nkind = "flat"\nroad = "Moor"\nrecording = "{name}"\n'
        for name in names
    )
    gates = "".join(
        f"{end}_gate = {{ lat_deg = {lat}, lon_deg = -30, heading_deg = 0 }}\n"
        for end, lat in (("first", 45.0008), ("last", 45.004))
    )
    day = tmp_path / "day.toml"
    day.write_text(
        'name = "Moor"\n[[build]]\nfile = "bare.toml"\n'
        f'[[road]]\nname = "Moor"\nlength_m = 356\n{gates}{runs}',
        encoding="utf-8",
    )
    code, out, err = check(day)
    assert (code, err) == (0, "")
    assert out.splitlines()[1:] == [
        "  note: recordings of runs 1 to 5 (run1.csv, run2.csv and 3 more): distance was worked "
        "out from positions"
    ]
    # `infer` tells the same in the same words, once for all runs.
    with pytest.raises(SystemExit):
        main.run(["fieldtest", "infer", str(day)])
    told = " ".join(capsys.readouterr().out.split())
    assert told.count("worked out from positions") == 1
    assert out.splitlines()[1].strip()[len("note: r") :] in told


def test_keys_that_tell_a_kind_are_those_of_its_file():
    """They are written out, so that a check need not load the kernels; here they are held."""
    bunch, fieldtest = (importlib.import_module(f"simulator.{n}") for n in ("bunch", "fieldtest"))
    spend = importlib.import_module("simulator.spend")
    assert set(spend.SpendFile.model_fields) == KEYS["spend"]
    assert set(bunch.BunchFile.model_fields) - {"name", "shelter"} == KEYS["bunch"]
    fields = {
        "testday": fieldtest.TestDayFile,
        "verdict": fieldtest.VerdictFile,
        "runplan": fieldtest.RunPlanFile,
    }
    for kind, schema in fields.items():
        assert KEYS[kind] <= set(schema.model_fields)


def test_what_was_left_to_defaults_is_told(check, tmp_path):
    path = tmp_path / "bare.toml"
    path.write_text(MINIMAL, encoding="utf-8")
    told = check(path)[1]
    # As the reference of all keys has them, which is made from the schemas.
    reference = (CONFIGS.parent / "docs" / "files.md").read_text(encoding="utf-8")
    for key in ("wheel_drag_area_m2", "wheel_inertia_kgm2", "drivetrain_efficiency", "grip_wet"):
        default = re.search(rf"\| `{key}` \| [^|]+\| [^|]*\| ([^|]+) \|", reference)[1]
        assert f"{key} = {default}, " in told.replace("\n", ", ")
    assert "chainrings = [34, 50], sprockets = 11 to 30," in told
    path.write_text("wind_kmh = 10\nwind_from_deg = 270\n", encoding="utf-8")
    told = check(path)[1]
    assert "temperature_degc = 15, pressure_hpa = 1013.25, " in told
    assert 'pressure_is = "at the station"' in told
    assert "wet_road = false" in told
    path.write_text(MINIMAL + 'source = "defaults for now"\n', encoding="utf-8")
    assert "note: left to their defaults: wheel_drag_area_m2 = 0.0044" in check(path)[1]
    whole = (CONFIGS / "plover.toml").read_text(encoding="utf-8")
    path.write_text(re.sub("source = .*", 'source = "defaults for now"', whole), encoding="utf-8")
    assert "note" not in check(path)[1]
    path.write_text(MINIMAL, encoding="utf-8")
    assert "note" not in check("--quiet", path)[1]


def test_wrong_files_are_all_told_and_sound_ones_too(check, tmp_path):
    (tmp_path / "a.toml").write_text(MINIMAL + "sped = 3\nprice = -1\n", encoding="utf-8")
    (tmp_path / "b.toml").write_text("wind = 3\nhumidity_pct = 50\n", encoding="utf-8")
    code, out, err = check(
        tmp_path / "a.toml", CONFIGS / "rider.toml", tmp_path / "b.toml", tmp_path / "none.toml"
    )
    assert code == 2
    assert out.count("sound") == 1
    lines = err.splitlines()
    assert len(lines) == 4
    assert all(line.startswith("buildgap: ") for line in lines)
    assert "line 5, key `sped`" in lines[0]
    assert "line 6, key `price`" in lines[1]
    assert "did you mean `wind_kmh`" in lines[2]
    assert "there is no such file" in lines[3]


@pytest.mark.parametrize(
    ("name", "data", "words"),
    [
        ("a.toml", b"", "the file is empty"),
        ("a.gpx", b"", "empty"),
        ("a.toml", b"# only a remark\n", "the file has no keys"),
        ("a.toml", b"colour = 'red'\n", "no key tells what this file is (`colour`)"),
        ("notes.md", b"Ride on\nSunday\n", "this is a file of an unknown kind"),
        ("a.toml", b"Ride on\n", "line 1: this is not valid TOML"),
        ("a.fit", b"\x0e\x10\xd9\x07\x00\x00\x00\x00.FIT", "the FIT file is damaged"),
        ("a.csv", b"a,b\n1,2\n", "no column `time_s` or `time`"),
        ("a.tcx", b"<TrainingCenterDatabase/>", "0 samples"),
        ("N44W036.hgt", b"\x00" * 100, "a tile of 100 bytes"),
        ("tile.hgt", b"\x00" * 100, "the name of a tile must say where it lies"),
        ("a.epw", b"LOCATION,x\n", 'found "" for the height of the station'),
        ("a.geojson", b"{", "not JSON"),
        ("a.geojson", b'{"type": "Feature"}', "no list of features"),
        ("spend.toml", b"budgets = []\n[[race]]\ncourse = 'none'\n", "at least 1 entries"),
        ("spend.toml", b"budgets = [1]\n[[race]]\ncourse = 'none.gpx'\n", "none.gpx"),
        ("a.zip", b"PK\x03\x04", "this is a packed file"),
        ("a.bin", b"abc\x00", "this is a file that is not text"),
        ("a.json", b' {"a": 1}', "no list of features"),
        ("a.xml", b"<kml></kml>", "another kind (<kml>)"),
        ("a.gpx", b"<gpx><trk>", "not well-formed XML"),
        ("a.fit", b"", "the file is empty; expected a recording as FIT, GPX, TCX or CSV"),
        ("a.tcx", b" \n", "the file is empty; expected a recording as FIT, GPX, TCX or CSV"),
        ("a.gpx", gpx(heights=False).encode(), "tiles"),
        ("a.gpx", "<gpx></gpx>".encode("utf-16"), "no track or route point"),
        ("rider.toml", b"mass = 70\n", "did you mean `mass_kg`"),
        ("weather.toml", b"name = 'calm'\nwindy = 3\n", "the key is not known"),
        ("a.toml", b"track = 'missing.gpx'\nname = 'x'\nlaps = 2\n", "missing.gpx"),
    ],
)
def test_one_sentence_for_each_wrong_file(check, tmp_path, name, data, words):
    (tmp_path / name).write_bytes(data)
    code, out, err = check(tmp_path / name)
    assert (code, out) == (2, "")
    assert words in err
    assert len(err.splitlines()) == 1


def test_wrong_key_inside_a_table_does_not_ask_for_another_option(check, tmp_path):
    path = tmp_path / "pacing.toml"
    path.write_text('[[rule]]\nkind = "constant"\npower = 200\n', encoding="utf-8")
    code, _, err = check(path)
    assert code == 2
    assert "key `rule[1].power`: the key is not known" in err
    assert "its keys are those of" not in err


def test_folder_without_a_course(check, tmp_path):
    code, _, err = check(tmp_path)
    assert code == 2
    assert "a folder without course.toml" in err
    assert "did you mean" not in err
    (tmp_path / "lap.gpx").write_text(gpx())
    assert f"did you mean `{tmp_path / 'lap.gpx'}`?" in check(tmp_path)[2]
    (tmp_path / "course").mkdir()
    (tmp_path / "course" / "course.toml").write_text('track = "../lap.gpx"\n')
    assert f"did you mean `{tmp_path / 'course'}`?" in check(tmp_path)[2]

"""``buildgap new`` writes a set of files that checks sound, and never over others."""

import re
import shlex
from pathlib import Path

import pytest

from simulator.cli import main
from simulator.course import CourseFile, build_course
from simulator.files import check_toml
from simulator.starters import KINDS, starter_path

TRACK = (
    '<gpx version="1.1" creator="x" xmlns="http://www.topografix.com/GPX/1/1"><trk><trkseg>'
    + "".join(
        f'<trkpt lat="{45 + i * 1e-4:.6f}" lon="-30"><ele>{i / 9:.1f}</ele></trkpt>'
        for i in range(99)
    )
    + "</trkseg></trk></gpx>"
)


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
def track(tmp_path):
    path = tmp_path / 'my "hill".gpx'
    path.write_text(TRACK, encoding="utf-8")
    return path


@pytest.mark.parametrize("own_track", [False, True])
def test_whole_set_checks_sound(buildgap, tmp_path, track, own_track):
    folder = tmp_path / "my race"
    code, out, err = buildgap("new", folder, *(["--from", track] if own_track else []))
    assert (code, err) == (0, "")
    written = {path for path in folder.rglob("*") if path.is_file()}
    assert {f"wrote {path}" for path in written} <= set(out.splitlines())
    assert {path.name for path in folder.iterdir()} == {
        "README.md", "rider.toml", "weather.toml", "pacing.toml", "plover.toml", "gannet.toml",
        "course",
    }  # fmt: skip
    readme = (folder / "README.md").read_text(encoding="utf-8")
    command = shlex.split(re.search(r"^ +(buildgap check .*)$", readme, re.M).group(1))
    code, out, err = buildgap(*command[1:])
    assert (code, err) == (0, "")
    assert out.count(": sound; ") == 6


JOBS = ["spend", "fieldtest", "bunch"]


@pytest.mark.parametrize("own_track", [False, True])
def test_sets_for_all_jobs_check_sound_and_their_commands_name_files(
    buildgap, tmp_path, track, own_track
):
    folder = tmp_path / "my season"
    wanted = [word for job in JOBS for word in ("--for", job)]
    code, _, err = buildgap("new", folder, *wanted, *(["--from", track] if own_track else []))
    assert (code, err) == (0, "")
    readme = (folder / "README.md").read_text(encoding="utf-8")
    commands = [shlex.split(line) for line in re.findall(r"^    (buildgap .*)$", readme, re.M)]
    assert {words[1] for words in commands} == {"check", "compare", "ride", *JOBS}
    for words in commands:
        named = [word for word in words[1:] if word.startswith(folder.as_posix())]
        assert named
        assert all(Path(name).exists() for name in named if not name.endswith("/out"))
    code, out, err = buildgap(*commands[0][1:])
    assert (code, err) == (0, "")
    assert out.count(": sound; ") == 14
    tomls = {path.relative_to(folder).as_posix() for path in folder.rglob("*.toml")}
    checked = {Path(name).relative_to(folder).as_posix() for name in commands[0][2:]}
    assert tomls - checked == {"course/course.toml", "fieldtest/steady-climb/course.toml"}


def test_example_zone_changes_nothing(buildgap, tmp_path, track):
    """It is there to be drawn over; until then a ride is as without it."""
    folder = tmp_path / "race"
    buildgap("new", folder, "--from", track)
    file = folder / "course" / "course.toml"
    plain = build_course(file)
    text = file.read_text(encoding="utf-8")
    file.write_text(re.sub(r"(?m)^# (?=zones = )", "", text), encoding="utf-8")
    zoned = build_course(file)
    for name in ("shelters", "crr_factors", "grip_factors", "roughnesses_m"):
        assert set(getattr(zoned, name)) == set(getattr(plain, name))


def test_commands_of_the_readme_name_what_was_written(buildgap, tmp_path, track):
    folder = tmp_path / "my race"
    buildgap("new", folder, "--from", track)
    readme = (folder / "README.md").read_text(encoding="utf-8")
    words = shlex.split(re.search(r"^ +(buildgap compare .*)$", readme, re.M).group(1))
    named = {words[i + 1] for i, word in enumerate(words) if word.startswith("--")}
    named.remove((folder / "out").as_posix())
    assert len(named) == 5
    assert all(Path(name).exists() for name in named)


def test_own_track_is_copied_as_it_is(buildgap, tmp_path, track):
    folder = tmp_path / "race"
    buildgap("new", folder, "--from", track)
    assert (folder / "course" / "track.gpx").read_bytes() == track.read_bytes()
    text = (folder / "course" / "course.toml").read_text(encoding="utf-8")
    assert check_toml(text, CourseFile, file="x").name == "my hill"


def test_never_over_other_files(buildgap, tmp_path, track):
    folder = tmp_path / "race"
    folder.mkdir()
    (folder / "weather.toml").write_text("mine", encoding="utf-8")
    code, out, err = buildgap("new", folder, "--from", track)
    assert (code, out) == (2, "")
    assert "weather.toml: the file exists already and is left as it is" in err
    assert [path.name for path in folder.iterdir()] == ["weather.toml"]
    assert (folder / "weather.toml").read_text(encoding="utf-8") == "mine"
    assert buildgap("new", folder, "--from", track, "--overwrite")[0] == 0
    assert (folder / "weather.toml").read_text(encoding="utf-8") != "mine"


@pytest.mark.parametrize(
    ("data", "words"),
    [(None, "no such file"), (b"", "empty"), (b"<gpx></gpx>", "no track or route point")],
)
def test_track_that_is_none_writes_nothing(buildgap, tmp_path, data, words):
    path = tmp_path / "bad.gpx"
    if data is not None:
        path.write_bytes(data)
    code, out, err = buildgap("new", tmp_path / "race", "--from", path)
    assert (code, out) == (2, "")
    assert words in err
    assert not (tmp_path / "race").exists()


def test_folder_as_track(buildgap, tmp_path):
    code, _, err = buildgap("new", tmp_path / "race", "--from", tmp_path)
    assert code == 2
    assert "this is a folder" in err


def test_place_that_cannot_be_written(buildgap, tmp_path, track):
    (tmp_path / "race").write_text("a file", encoding="utf-8")
    code, _, err = buildgap("new", tmp_path / "race", "--from", track)
    assert code == 2
    assert "race: this is a file, not a folder; expected a folder, or a name that is free" in err


def uncommented(text):
    """The template with every key that it shows taken into use."""
    return re.sub(r"(?m)^# (?=\w+ = |\[\[)", "", text)


def test_course_template_shows_every_key_and_all_of_them_load():
    text = starter_path("configs/course.toml").read_text(encoding="utf-8")
    check_toml(text, CourseFile, file="course.toml")
    course = check_toml(uncommented(text), CourseFile, file="course.toml")
    assert course.model_fields_set == set(CourseFile.model_fields)
    for name in ("fix", "corner", "label", "restart", "gate"):
        entry = getattr(course, name)[0]
        assert entry.model_fields_set == set(type(entry).model_fields)


def test_made_up_course_shows_every_key_once(buildgap, tmp_path):
    buildgap("new", tmp_path / "race")
    text = (tmp_path / "race" / "course" / "course.toml").read_text(encoding="utf-8")
    before = check_toml(text, CourseFile, file="course.toml")
    after = check_toml(uncommented(text), CourseFile, file="course.toml")
    assert after.model_fields_set == set(CourseFile.model_fields)
    assert all(getattr(after, name) == getattr(before, name) for name in before.model_fields_set)


def test_starters():
    assert all(starter_path(kind).is_dir() for kind in KINDS)
    with pytest.raises(FileNotFoundError, match=r"lacks configs/swan\.toml"):
        starter_path("configs/swan.toml")
    with pytest.raises(ValueError, match="kinds"):
        starter_path("tests/files")


def test_comparison_of_the_set_is_told_against_the_dream_as_in_the_pages(buildgap, tmp_path):
    buildgap("new", tmp_path / "mine")
    readme = (tmp_path / "mine" / "README.md").read_text(encoding="utf-8")
    builds = re.findall(r"--build \S*?(\w+)\.toml", re.search(r"buildgap compare.*", readme)[0])
    page = (Path(__file__).parents[2] / "docs" / "compare.md").read_text(encoding="utf-8")
    in_page = re.findall(r"--build \S*?(\w+)\.toml", re.search(r"buildgap compare.*", page)[0])
    assert builds == in_page == ["gannet", "plover"]


def test_track_without_heights_gets_the_way_to_them(buildgap, tmp_path, track):
    text = track.read_text(encoding="utf-8")
    bare, zeros = tmp_path / "bare.gpx", tmp_path / "zeros.gpx"
    bare.write_text(re.sub(r"<ele>.*?</ele>", "", text), encoding="utf-8")
    zeros.write_text(re.sub(r"<ele>.*?</ele>", "<ele>0</ele>", text), encoding="utf-8")
    for path in (bare, zeros):
        folder = tmp_path / f"my {path.stem}"
        code, out, err = buildgap("new", folder, "--from", path)
        assert (code, err) == (0, "")
        (told,) = (line for line in out.splitlines() if line.startswith("doubt: "))
        command = shlex.split(re.search(r"`buildgap (.*?)`", told)[1])
        # Nothing is fetched here: the folder must be the one that the key, as told, leads to.
        course, tiles = folder / "course", folder / "tiles"
        assert command == ["course", "check", str(course), "--tiles", str(tiles), "--download"]
        written = (course / "course.toml").read_text(encoding="utf-8")
        line = re.search(r"`(tiles = .*?)`", told)[1]
        (course / "course.toml").write_text(line + "\n" + written, encoding="utf-8")
        tiles.mkdir()
        code, _, err = buildgap("check", course)
        assert code == 2
        assert "the elevation tile N45W030.hgt" in err
        assert str(tiles) in err.replace("course/../", "")
    assert "doubt" not in buildgap("new", tmp_path / "sound", "--from", track)[1]


def test_track_of_two_parts_is_told_when_the_set_is_written(buildgap, tmp_path, track):
    text = track.read_text(encoding="utf-8")
    far = re.sub(r'lat="45', 'lat="46', text[text.index("<trk>") : text.index("</gpx>")])
    track.write_text(text.replace("</gpx>", far + "</gpx>"), encoding="utf-8")
    assert "doubt: the file holds 2 tracks" in buildgap("new", tmp_path / "x", "--from", track)[1]

"""A course folder from somebody else reads nothing outside itself."""

import os
import posixpath
import re
from pathlib import Path

import pytest

from simulator.course import build_course
from simulator.errors import InputError
from simulator.files import path_inside

SECRET = "private words"
TRACK = (
    '<gpx version="1.1" xmlns="http://www.topografix.com/GPX/1/1"><trk><trkseg>'
    + "".join(f'<trkpt lat="{45 + i * 1e-4:.6f}" lon="-30"><ele>9</ele></trkpt>' for i in range(99))
    + "</trkseg></trk></gpx>"
)


@pytest.fixture
def course(tmp_path):
    """``course(text)`` -> a course folder two levels down, with a private track above it."""
    folder = tmp_path / "got" / "course"
    (folder / "inner").mkdir(parents=True)
    for place in (folder, folder / "inner", tmp_path, tmp_path / "got"):
        (place / "track.gpx").write_text(TRACK, encoding="utf-8")
        (place / "zones.geojson").write_text('{"features": []}', encoding="utf-8")
    (tmp_path / "got" / "tiles").mkdir()
    (tmp_path / "secret.txt").write_text(SECRET, encoding="utf-8")

    def write(text):
        (folder / "course.toml").write_text(f"name = 'got'\n{text}\n", encoding="utf-8")
        return folder

    return write


def complaint(folder):
    with pytest.raises(InputError) as told:
        build_course(folder)
    return str(told.value)


OUTSIDE = [
    "../track.gpx",
    "../../track.gpx",
    "inner/../../track.gpx",
    "./inner/../../../track.gpx",
    r"..\track.gpx",
    r"inner\..\..\track.gpx",
    "../course/../track.gpx",
    "../../course/track.gpx",
    "C:track.gpx",
    "C:/track.gpx",
    "//host/share/track.gpx",
    r"\\host\share\track.gpx",
    "",
    "..",
]
BESIDE = re.compile(r"\.\./[^/.]+(\.gpx)?")


@pytest.mark.parametrize("name", [*OUTSIDE, "ABSOLUTE", "/dev/zero"])
@pytest.mark.parametrize("key", ["track", "zones", "tiles"])
def test_name_that_leads_out(course, tmp_path, key, name):
    if key == "tiles" and BESIDE.fullmatch(posixpath.normpath(name.replace("\\", "/"))):
        return  # see test_tiles_beside_the_folder
    written = name.replace("ABSOLUTE", (tmp_path / "track.gpx").as_posix())
    text = complaint(course(f"{key} = '{written}'"))
    assert f"key `{key}`" in text
    assert "course.toml" in text
    assert "name inside the folder" in text


@pytest.mark.parametrize("key", ["track", "zones", "tiles"])
def test_link_that_leads_out(course, tmp_path, key):
    folder = course(f"{key} = 'link'")
    (folder / "link").symlink_to(tmp_path / "secret.txt")
    text = complaint(folder)
    assert "a link that leads out of the folder" in text
    assert SECRET not in text
    (folder / "link").unlink()
    (folder / "link").symlink_to(folder / "link")
    assert f"key `{key}`" in complaint(folder)


def test_folder_that_is_a_link(course, tmp_path):
    """Where the folder itself lies is the user's own affair; inside it the rule is the same."""
    folder = course("track = 'inner/track.gpx'\nzones = './inner/../zones.geojson'")
    (tmp_path / "mine").symlink_to(folder)
    assert build_course(tmp_path / "mine").name == "got"
    course("track = '../track.gpx'")
    assert "leads out" in complaint(tmp_path / "mine")


def test_tiles_beside_the_folder(course, tmp_path):
    assert build_course(course("tiles = '../tiles'")).name == "got"
    assert "leads out" in complaint(course("tiles = '../../tiles'"))
    away = tmp_path / "got" / "away"
    away.symlink_to(tmp_path)
    assert "a link that leads out" in complaint(course("tiles = '../away'"))


def test_tile_that_is_a_link(course, tmp_path):
    folder = course("tiles = '../tiles'\nheights = 'tiles'")
    (tmp_path / "got" / "tiles" / "N45W030.hgt").symlink_to(tmp_path / "secret.txt")
    text = complaint(folder)
    assert "a link that leads out of the folder" in text
    assert "--tiles" in text


def test_what_the_user_names_may_lie_anywhere(tmp_path):
    (tmp_path / "a").mkdir()
    (tmp_path / "a" / "ride.gpx").write_text(TRACK, encoding="utf-8")
    (tmp_path / "link.gpx").symlink_to(tmp_path / "a" / "ride.gpx")
    for path in (tmp_path / "a" / ".." / "link.gpx", tmp_path / "a" / "ride.gpx"):
        assert build_course(path).distance_m > 1000.0


def test_endless_file_is_read_within_bounds(monkeypatch, tmp_path):
    """A device tells no size; what was read of it is bounded all the same."""
    monkeypatch.setattr("simulator.course.track.MAX_FILE_BYTES", 1000)
    assert os.path.exists("/dev/zero")  # noqa: PTH110
    with pytest.raises(InputError, match="larger than"):
        build_course(Path("/dev/zero"))


def test_names_that_stay_inside(tmp_path):
    for name in ("a", "a/b.gpx", "./a", "a/../b", "a//b", ".", "..a", "a..b/c"):
        found = path_inside(tmp_path, name, file="f", key="k")
        assert found == tmp_path / name

"""Elevation tiles: interpolation, voids, borders, files that are missing or broken."""

import io
import re
import socket
import zipfile

import numpy as np
import pytest

from simulator.course import build_course
from simulator.course.tiles import VOID, heights_from_tiles
from simulator.errors import InputError

SIDE = 1201


def plane(lat0, lon0, side=SIDE):
    """Posts of a plane over latitude and longitude, the same plane in every tile."""
    lats = lat0 + 1.0 - np.arange(side)[:, None] / (side - 1)
    lons = lon0 + np.arange(side)[None, :] / (side - 1)
    return 1200.0 * (lats - 44.0) + 2400.0 * (lons + 36.0)


def write_tile(folder, name, posts, *, zipped=False):
    data = np.round(posts).astype(">i2").tobytes()
    if not zipped:
        (folder / name).write_bytes(data)
        return
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr(name, data)
    (folder / f"{name}.zip").write_bytes(packed.getvalue())


@pytest.fixture(autouse=True)
def no_network(monkeypatch):
    def refuse(*_args, **_kwargs):
        msg = "the network was touched"
        raise AssertionError(msg)

    monkeypatch.setattr(socket, "create_connection", refuse)
    monkeypatch.setattr(socket.socket, "connect", refuse)


@pytest.mark.parametrize("zipped", [False, True])
def test_a_plane_comes_back(tmp_path, zipped):
    write_tile(tmp_path, "N44W036.hgt", plane(44, -36), zipped=zipped)
    rng = np.random.default_rng(1)
    lats, lons = rng.uniform(44.0, 45.0, 500), rng.uniform(-36.0, -35.0, 500)
    tiles = heights_from_tiles(lats, lons, tmp_path)
    expected = 1200.0 * (lats - 44.0) + 2400.0 * (lons + 36.0)
    # The plane's posts are whole numbers, so nothing is rounded.
    np.testing.assert_allclose(tiles.heights_m, expected, atol=1e-6)
    assert tiles.tiles == ("N44W036.hgt",)
    assert tiles.post_spacing_m == pytest.approx(92.7, abs=0.1)


def test_one_arc_second_tiles(tmp_path):
    posts = np.zeros((3601, 3601), dtype=">i2")
    posts[2700, 1800] = 250
    (tmp_path / "N44W036.hgt").write_bytes(posts.tobytes())
    lats = np.array([44.25, 44.25 + 0.5 / 3600.0])
    tiles = heights_from_tiles(lats, np.array([-35.5, -35.5]), tmp_path)
    np.testing.assert_allclose(tiles.heights_m, [250.0, 125.0], atol=1e-6)
    assert tiles.side == 3601


def test_bilinear_against_the_obvious_twin(tmp_path):
    rng = np.random.default_rng(2)
    posts = rng.integers(0, 900, (SIDE, SIDE)).astype(float)
    write_tile(tmp_path, "N44W036.hgt", posts)
    lats, lons = rng.uniform(44.0, 45.0, 50), rng.uniform(-36.0, -35.0, 50)
    expected = []
    for lat, lon in zip(lats, lons, strict=True):
        y, x = (45.0 - lat) * 1200.0, (lon + 36.0) * 1200.0
        i, j = int(y), int(x)
        top = posts[i, j] + (x - j) * (posts[i, j + 1] - posts[i, j])
        bottom = posts[i + 1, j] + (x - j) * (posts[i + 1, j + 1] - posts[i + 1, j])
        expected.append(top + (y - i) * (bottom - top))
    np.testing.assert_allclose(heights_from_tiles(lats, lons, tmp_path).heights_m, expected)


def test_heights_are_continuous_across_borders(tmp_path):
    for name, lat0, lon0 in (
        ("N44W036.hgt", 44, -36),
        ("N45W036.hgt", 45, -36),
        ("N44W035.hgt", 44, -35),
        ("N45W035.hgt", 45, -35),
    ):
        write_tile(tmp_path, name, plane(lat0, lon0))
    step = np.linspace(-1e-4, 1e-4, 21)
    for lats, lons in (
        (45.0 + step, np.full(21, -35.3)),
        (np.full(21, 44.7), -35.0 + step),
        (45.0 + step, -35.0 + step),
    ):
        heights = heights_from_tiles(lats, lons, tmp_path).heights_m
        expected = 1200.0 * (lats - 44.0) + 2400.0 * (lons + 36.0)
        np.testing.assert_allclose(heights, expected, atol=1e-6)


def test_a_place_on_the_border_needs_one_of_the_tiles_only(tmp_path):
    write_tile(tmp_path, "N44W036.hgt", plane(44, -36))
    heights = heights_from_tiles(
        np.array([45.0, 44.5, 45.0]), np.array([-35.5, -35.0, -35.0]), tmp_path
    ).heights_m
    np.testing.assert_allclose(heights, [2400.0, 3000.0, 3600.0], atol=1e-6)


def test_voids(tmp_path):
    posts = np.full((SIDE, SIDE), 100.0)
    posts[600, 600] = VOID
    posts[700:720, 700:720] = VOID
    write_tile(tmp_path, "N44W036.hgt", posts)
    places = np.array(
        [[44.5 + 0.4 / 1200, -35.5 + 0.4 / 1200], [45 - 710 / 1200, -36 + 710 / 1200]]
    )
    heights = heights_from_tiles(places[:, 0], places[:, 1], tmp_path).heights_m
    assert heights[0] == pytest.approx(100.0)  # from the three posts that are known
    assert np.isnan(heights[1])


def test_voids_on_a_course_are_filled_and_told(tmp_path, write_gpx):
    posts = plane(44, -36)
    posts[560:566, :] = VOID  # about 460 m from north to south
    write_tile(tmp_path, "N44W036.hgt", posts)
    lats = 44.52 + 9e-5 * np.arange(300)
    course = build_course(write_gpx(lats, np.full(300, -35.9)), tiles_folder=tmp_path)
    assert any("voids" in finding.text for finding in course.findings)
    assert course.height_source == "tiles"
    assert np.abs(course.grades - 1200.0 / 111_150.0).max() < 0.004


def test_a_course_in_a_void_is_refused(tmp_path, write_gpx):
    write_tile(tmp_path, "N44W036.hgt", np.full((SIDE, SIDE), VOID))
    lats = 44.52 + 9e-5 * np.arange(30)
    with pytest.raises(InputError, match="void"):
        build_course(write_gpx(lats, np.full(30, -35.9)), tiles_folder=tmp_path)


def test_a_missing_tile_is_named(tmp_path):
    write_tile(tmp_path, "N44W036.hgt", plane(44, -36))
    with pytest.raises(InputError, match=r"N45W036\.hgt \(or N45W036\.hgt\.zip\) is missing"):
        heights_from_tiles(np.array([44.5, 45.5]), np.array([-35.5, -35.5]), tmp_path)


def test_a_missing_folder_is_named(tmp_path):
    with pytest.raises(InputError, match="no such folder"):
        heights_from_tiles(np.array([44.5]), np.array([-35.5]), tmp_path / "none")


@pytest.mark.parametrize("tiles", ["", "empty", "none"])
def test_the_command_that_fetches_tiles_is_named_and_is_one(
    tmp_path, write_gpx, capsys, monkeypatch, tiles
):
    """Wherever tiles lack: `compare` and the others have no option that fetches."""
    import requests

    from simulator.cli import main

    fetched = []

    def get(url, **_kwargs):
        fetched.append(url)
        msg = "no route"
        raise requests.exceptions.ConnectionError(msg)

    monkeypatch.setattr(requests, "get", get)
    (tmp_path / "empty").mkdir()
    track = write_gpx(44.52 + 9e-5 * np.arange(30), np.full(30, 6.5))
    with pytest.raises(InputError) as told:
        build_course(track, tiles_folder=tmp_path / tiles if tiles else None)
    (command,) = re.findall(r"`buildgap ([^`]+)`", str(told.value))
    words = {"TRACK": str(track), "FOLDER": str(tmp_path / "new")}
    with pytest.raises(SystemExit):
        main.run([words.get(word, word) for word in command.split()])
    assert "N44E006.hgt could not be fetched" in capsys.readouterr().err
    assert len(fetched) == 1


def test_a_track_with_heights_says_why_tiles_are_not_used(tmp_path, write_gpx):
    lats = 44.52 + 9e-5 * np.arange(60)
    course = build_course(
        write_gpx(lats, np.full(60, -35.9), [5.0] * 59 + [9.0]), tiles_folder=tmp_path
    )
    (text,) = [f.text for f in course.findings if "tiles not used" in f.text]
    assert "N44W036.hgt (or N44W036.hgt.zip) is missing" in text
    assert text.endswith("--download`")


def test_tiles_north_of_sixty_degrees(tmp_path):
    write_tile(tmp_path, "N69E018.hgt", np.full((SIDE, SIDE), 42.0))
    heights = heights_from_tiles(np.array([69.6]), np.array([18.9]), tmp_path).heights_m
    assert heights[0] == pytest.approx(42.0)


@pytest.mark.parametrize(
    ("name", "data", "words"),
    [
        ("N44W036.hgt", b"\x00" * 1000, "1000 bytes"),
        ("N44W036.hgt.zip", b"not a zip", "not a zip"),
        ("N44W036.hgt", b"", "0 bytes"),
    ],
)
def test_broken_tiles(tmp_path, name, data, words):
    (tmp_path / name).write_bytes(data)
    with pytest.raises(InputError, match=words):
        heights_from_tiles(np.array([44.5]), np.array([-35.5]), tmp_path)


def test_a_zip_of_something_huge_is_not_unpacked(tmp_path):
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("N44W036.hgt", b"\x00" * 30_000_000)
    (tmp_path / "N44W036.hgt.zip").write_bytes(packed.getvalue())
    with pytest.raises(InputError, match="30000000 bytes"):
        heights_from_tiles(np.array([44.5]), np.array([-35.5]), tmp_path)


def test_nothing_is_printed(tmp_path, capsys):
    write_tile(tmp_path, "N44W036.hgt", plane(44, -36), zipped=True)
    heights_from_tiles(np.array([44.5]), np.array([-35.5]), tmp_path)
    assert capsys.readouterr().out == ""


def test_download_only_when_asked_and_told_when_it_fails(tmp_path, monkeypatch):
    import requests

    calls = []

    def get(url, **_kwargs):
        calls.append(url)
        msg = "no route"
        raise requests.exceptions.ConnectionError(msg)

    monkeypatch.setattr(requests, "get", get)
    place = np.array([44.5]), np.array([6.5])
    with pytest.raises(InputError, match="missing"):
        heights_from_tiles(*place, tmp_path)
    assert calls == []
    with pytest.raises(InputError, match=r"N44E006\.hgt could not be fetched"):
        heights_from_tiles(*place, tmp_path, allow_download=True)
    assert len(calls) == 1


def test_auto_prefers_the_calmer_source_and_says_why(tmp_path, write_gpx, drift):
    write_tile(tmp_path, "N44W036.hgt", plane(44, -36))
    lats = 44.52 + 9e-5 * np.arange(600)
    lons = np.full(600, -35.9)
    true = 1200.0 * (lats - 44.0) + 240.0
    rng = np.random.default_rng(3)
    noisy = true + drift(rng, 10.0 * np.arange(600), 6.0, 150.0)
    for heights, expected, words in (
        (true, "track", "heights from the track"),
        (noisy, "tiles", "track's own are noisier"),
    ):
        path = write_gpx(lats, lons, [f"{h:.1f}" for h in heights])
        course = build_course(path, tiles_folder=tmp_path)
        assert course.height_source == expected
        assert any(words in finding.text for finding in course.findings)
    own = build_course(path, tiles_folder=tmp_path, heights="track")
    assert own.height_source == "track"


def test_holes_in_the_track_are_filled_from_tiles_at_the_tracks_level(tmp_path, write_gpx):
    write_tile(tmp_path, "N44W036.hgt", plane(44, -36))
    lats = 44.52 + 9e-5 * np.arange(400)
    heights = [f"{1200.0 * (lat - 44.0) + 300.0:.2f}" for lat in lats]  # 60 m above the tile
    for k in range(150, 250):
        heights[k] = None
    course = build_course(write_gpx(lats, np.full(400, -35.9), heights), tiles_folder=tmp_path)
    assert course.height_source == "track and tiles"
    assert np.abs(course.grades - 1200.0 / 111_150.0).max() < 0.002


def test_a_bridge_is_suspected_and_mended(tmp_path, write_gpx):
    posts = np.full((SIDE, SIDE), 100.0) + 15.0 * np.sin(np.arange(SIDE) / 3.0)[:, None]
    posts[585:587, :] -= 40.0  # a gorge across the road, which the road bridges
    write_tile(tmp_path, "N44W036.hgt", posts)
    lats = 44.49 + 9e-5 * np.arange(400)
    track = write_gpx(lats, np.full(400, -35.9), name="track.gpx")
    course = build_course(track, tiles_folder=tmp_path)
    suspects = [finding for finding in course.findings if "bridge" in finding.text]
    assert len(suspects) == 1
    gorge_m = (45.0 - 585.5 / 1200.0 - 44.49) * 111_110.0
    assert suspects[0].distance_m == pytest.approx(gorge_m, abs=200.0)
    low, high = (gorge_m - 200.0) / 1000.0, (gorge_m + 200.0) / 1000.0
    file = tmp_path / "course.toml"
    file.write_text(
        f'name = "bridge"\ntiles = "."\n[[fix]]\nfrom_km = {low:.3f}\nto_km = {high:.3f}\n'
    )
    mended = build_course(file)
    assert np.ptp(mended.grades[np.abs(mended.node_distances_m[1:] - gorge_m) < 190.0]) < 1e-9
    near = np.abs(course.node_distances_m[1:] - gorge_m) < 190.0
    assert np.abs(course.grades[near]).max() > 0.04
    assert not any("bridge" in finding.text for finding in mended.findings)

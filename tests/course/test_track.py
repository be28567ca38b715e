"""Reading track files: what is accepted, and one clear sentence for everything that is not."""

import numpy as np
import pytest

from simulator.course import build_course
from simulator.course.track import read_track
from simulator.errors import InputError

N = 40
LATS = 44.5 + 9e-5 * np.arange(N)
LONS = np.full(N, -35.5)
HEIGHTS = [f"{100 + k * 0.5:.1f}" for k in range(N)]


def complaint(path, **options):
    with pytest.raises(InputError) as caught:
        build_course(path, **options)
    text = str(caught.value)
    assert text.startswith(str(path))
    assert "\n" not in text
    assert text.endswith((".", "?", "!"))
    return text


def test_track_is_read(write_gpx):
    track = read_track(write_gpx(LATS, LONS, HEIGHTS))
    assert track.kind == "track"
    assert track.name == "made"
    np.testing.assert_allclose(track.lats_deg, LATS)
    np.testing.assert_allclose(track.heights_m, 100 + 0.5 * np.arange(N))
    assert np.isnan(track.times_s).all()


def test_route_is_read_when_there_is_no_track(write_gpx):
    track = read_track(write_gpx(LATS, LONS, HEIGHTS, kind="rte"))
    assert track.kind == "route"
    assert track.n_points == N


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "iso-8859-1"])
def test_encodings(tmp_path, make_gpx, encoding):
    declared = {"utf-8-sig": "UTF-8"}.get(encoding, encoding.upper())
    text = make_gpx(LATS, LONS, HEIGHTS).replace("UTF-8", declared).replace("made", "Mädé")
    path = tmp_path / "ride.gpx"
    path.write_bytes(text.encode(encoding))
    assert read_track(path).name == "Mädé"


def test_segments_are_joined(tmp_path, make_gpx):
    text = make_gpx(LATS, LONS, HEIGHTS)
    cut = f'<trkpt lat="{LATS[20]}"'
    path = tmp_path / "two.gpx"
    path.write_text(text.replace(cut, "</trkseg><trkseg>" + cut))
    track = read_track(path)
    assert track.n_points == N
    assert np.flatnonzero(track.is_break).tolist() == [0, 20]
    whole = tmp_path / "one.gpx"
    whole.write_text(text)
    assert build_course(path).distance_m == pytest.approx(build_course(whole).distance_m, abs=1e-6)


def test_the_longest_of_several_tracks_is_used_and_told(tmp_path, make_gpx):
    far = make_gpx(LATS[:5] + 1.0, LONS[:5], HEIGHTS[:5])
    body = far[far.index("<trk>") : far.index("</gpx>")]
    path = tmp_path / "ride.gpx"
    path.write_text(make_gpx(LATS, LONS, HEIGHTS).replace("</gpx>", body + "</gpx>"))
    track = read_track(path)
    assert track.n_points == N
    assert "2 tracks that do not join" in track.findings[0].text


def test_missing_file(tmp_path):
    assert "no such file" in complaint(tmp_path / "none.gpx")


def test_folder_without_course_file(tmp_path):
    assert "without course.toml" in complaint(tmp_path)


@pytest.mark.parametrize("content", [b"", b"  \n\n"])
def test_empty_file(tmp_path, content):
    path = tmp_path / "empty.gpx"
    path.write_bytes(content)
    assert "empty" in complaint(path)


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"hello", "not well-formed XML"),
        (b"<gpx><trk>", "not well-formed XML"),
        (b"\x00\x01\x02\xff\xfe", "not"),
        (b"<kml><Document/></kml>", "another kind"),
        (b"<html></html>", "another kind"),
        (b"<gpx></gpx>", "no track or route point"),
    ],
)
def test_not_gpx(tmp_path, content, words):
    path = tmp_path / "bad.gpx"
    path.write_bytes(content)
    assert words in complaint(path)


def test_xml_errors_name_their_line(tmp_path):
    path = tmp_path / "bad.gpx"
    path.write_text("<gpx>\n<trk>\n<oops\n</gpx>")
    assert "line 4" in complaint(path)


BOMB = """<?xml version="1.0"?>
<!DOCTYPE gpx [<!ENTITY a "ha"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;">
<!ENTITY c "&b;&b;&b;&b;&b;&b;&b;&b;">]>
<gpx><trk><name>&c;</name></trk></gpx>"""
EXTERNAL = """<?xml version="1.0"?>
<!DOCTYPE gpx [<!ENTITY x SYSTEM "file:///etc/hostname">]>
<gpx><trk><name>&x;</name></trk></gpx>"""
DOCTYPE = '<?xml version="1.0"?>\n<!DOCTYPE gpx SYSTEM "gpx.dtd">\n<gpx></gpx>'


@pytest.mark.parametrize("text", [BOMB, EXTERNAL, DOCTYPE], ids=["bomb", "external", "doctype"])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-16"])
def test_entities_are_refused(tmp_path, text, encoding):
    path = tmp_path / "attack.gpx"
    path.write_bytes(text.encode(encoding))
    assert "document type or entities" in complaint(path)


def test_one_point(write_gpx):
    assert "one point only" in complaint(write_gpx(LATS[:1], LONS[:1], HEIGHTS[:1]))


def test_all_points_in_one_place(write_gpx):
    path = write_gpx(np.full(9, 44.5), np.full(9, -35.5), HEIGHTS[:9])
    assert "one place" in complaint(path)


def test_no_heights_says_what_to_do(write_gpx):
    text = complaint(write_gpx(LATS, LONS))
    assert "height missing on 40 of 40 points" in text
    assert "--tiles" in text
    assert "N44W036.hgt" in text


def test_zero_heights_count_as_none(write_gpx):
    text = complaint(write_gpx(LATS, LONS, ["0.0"] * N))
    assert "all heights are 0" in text
    assert "--tiles" in text


@pytest.mark.parametrize(
    ("which", "value", "words"),
    [
        ("lat", "nan", "point 8: latitude nan"),
        ("lat", "90.5", "point 8: latitude 90.5"),
        ("lat", "-91", "point 8: latitude -91"),
        ("lon", "180.5", "point 8: longitude 180.5"),
        ("lon", "inf", "point 8: longitude inf"),
        ("lat", "44,5", 'point 8: the latitude is "44,5"'),
        ("lat", "38,899", "write a decimal point"),
        ("ele", "60,1", "write a decimal point"),
        ("ele", "nan", 'point 8: the height is "nan"'),
        ("ele", "high", 'point 8: the height is "high"'),
    ],
)
def test_numbers_that_are_none(write_gpx, which, value, words):
    lats, lons, heights = LATS.tolist(), LONS.tolist(), list(HEIGHTS)
    {"lat": lats, "lon": lons, "ele": heights}[which][7] = value
    assert words in complaint(write_gpx(lats, lons, heights))


def test_too_large_a_file(tmp_path, monkeypatch):
    monkeypatch.setattr("simulator.course.track.MAX_FILE_BYTES", 10)
    path = tmp_path / "big.gpx"
    path.write_text("<gpx></gpx>")
    assert "larger than" in complaint(path)


def test_a_course_over_the_date_line(write_gpx):
    lons = (179.998 + 1e-4 * np.arange(N) + 180.0) % 360.0 - 180.0
    course = build_course(write_gpx(np.full(N, 10.0), lons, HEIGHTS))
    assert course.distance_m == pytest.approx((N - 1) * 1e-4 * 109641.0, rel=0.01)
    assert np.all(np.abs(course.node_lons_deg) <= 180.0)

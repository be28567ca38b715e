"""The same ride in every kind of file gives the same recording; wrong files are told."""

import numpy as np
import pytest

from simulator.errors import InputError
from simulator.recordings import read_recording

MILLIMETRE_PER_S = 0.001


def same_ride_as(recording, ride, *, speed_atol=MILLIMETRE_PER_S):
    assert recording.n_samples == len(ride["times"])
    np.testing.assert_allclose(recording.times_s, ride["times"])
    np.testing.assert_allclose(recording.speeds_mps, ride["speeds"], atol=speed_atol)
    np.testing.assert_allclose(recording.powers_w, ride["powers"])
    np.testing.assert_allclose(recording.distances_m, ride["places"], atol=0.011)
    assert recording.rhythm == "every second"


@pytest.fixture
def ride(straight_ride):
    return straight_ride(5.0 + np.sin(np.arange(60) / 9.0))


def test_csv(ride, write_csv):
    recording = read_recording(write_csv(ride))
    same_ride_as(recording, ride)
    assert (recording.kind, recording.start_time, recording.repairs) == ("csv", "", ())
    assert recording.speed_source == "device"


def test_csv_with_semicolons_kmh_and_dates(tmp_path):
    path = tmp_path / "a.csv"
    path.write_text(
        "time;speed_kmh;distance_km;power_w\n"
        "2026-05-17T09:00:00Z;18,0;0,000;250\n2026-05-17T09:00:01Z;18,0;0,005;250\n"
        "2026-05-17T09:00:02Z;18,0;0,010;250\n",
        encoding="utf-8",
    )
    recording = read_recording(path)
    np.testing.assert_allclose(recording.speeds_mps, 5.0)
    np.testing.assert_allclose(recording.distances_m, [0.0, 5.0, 10.0])
    assert recording.start_time == "2026-05-17 09:00:00"


def test_fit(ride, fit_bytes, tmp_path):
    path = tmp_path / "a.fit"
    path.write_bytes(fit_bytes(ride, calibration_at=12))
    recording = read_recording(path)
    same_ride_as(recording, ride)
    assert recording.kind == "fit"
    assert recording.start_time == "2026-05-28 20:26:40"
    np.testing.assert_allclose(recording.heights_m, 100.0)
    zero = next(r for r in recording.repairs if r.kind == "meter zero")
    assert zero.start_s == 12.0


def test_fit_field_that_appears_twice_counts_once(ride, fit_bytes, tmp_path):
    path = tmp_path / "a.fit"
    path.write_bytes(fit_bytes(ride, power_twice=True))
    np.testing.assert_allclose(read_recording(path).powers_w, 250.0)


def test_fit_with_wrong_check_sum_is_read(ride, fit_bytes, tmp_path):
    path = tmp_path / "a.fit"
    path.write_bytes(fit_bytes(ride)[:-2] + b"\x00\x00")
    same_ride_as(read_recording(path), ride)


def test_fit_cut_short_keeps_what_stands_before(ride, fit_bytes, tmp_path):
    path = tmp_path / "a.fit"
    path.write_bytes(fit_bytes(ride)[:-200])
    recording = read_recording(path)
    assert 40 < recording.n_samples < 60
    assert any(repair.kind == "damaged" for repair in recording.repairs)


@pytest.mark.parametrize("sub_sport", [6, 58])
def test_fit_from_indoors_is_refused(ride, fit_bytes, tmp_path, sub_sport):
    path = tmp_path / "a.fit"
    path.write_bytes(fit_bytes(ride, sub_sport=sub_sport))
    with pytest.raises(InputError, match="a program worked out its speed"):
        read_recording(path)


GPX_POINT = (
    '<trkpt lat="{lat:.8f}" lon="-35.5"><ele>100</ele><time>2026-05-17T09:00:{s:02d}Z</time>'
    "<extensions><power>250</power><x:TrackPointExtension><x:atemp>18</x:atemp>"
    "<x:cad>88</x:cad><x:speed>{v:.4f}</x:speed></x:TrackPointExtension></extensions></trkpt>"
)


def test_gpx_with_extensions(ride, tmp_path):
    from math import degrees

    points = "".join(
        GPX_POINT.format(lat=44.5 + degrees(p / 6_371_008.8), s=int(t), v=v)
        for t, p, v in zip(ride["times"], ride["places"], ride["speeds"], strict=True)
    )
    path = tmp_path / "a.gpx"
    path.write_text(
        '<gpx version="1.1" xmlns="http://www.topografix.com/GPX/1/1" xmlns:x="urn:x"><trk>'
        f"<trkseg>{points}</trkseg></trk></gpx>",
        encoding="utf-8",
    )
    recording = read_recording(path)
    same_ride_as(recording, ride)
    np.testing.assert_allclose(recording.temperatures_degc, 18.0)
    np.testing.assert_allclose(recording.cadences_rpm, 88.0)
    assert any("worked out from positions" in repair.text for repair in recording.repairs)


def test_gpx_without_speed_says_so(ride, tmp_path):
    from math import degrees

    points = "".join(
        f'<trkpt lat="{44.5 + degrees(p / 6_371_008.8):.8f}" lon="-35.5">'
        f"<time>2026-05-17T09:00:{int(t):02d}Z</time></trkpt>"
        for t, p in zip(ride["times"], ride["places"], strict=True)
    )
    path = tmp_path / "a.gpx"
    path.write_text(f"<gpx><trk><trkseg>{points}</trkseg></trk></gpx>", encoding="utf-8")
    recording = read_recording(path)
    assert recording.speed_source == "positions"
    np.testing.assert_allclose(recording.speeds_mps[2:-2], ride["speeds"][2:-2], atol=0.05)
    assert {"speed", "no power"} <= {repair.kind for repair in recording.repairs}


TCX_POINT = (
    "<Trackpoint><Time>2026-05-17T09:00:{s:02d}.000Z</Time><Position>"
    "<LatitudeDegrees>{lat:.8f}</LatitudeDegrees><LongitudeDegrees>-35.5</LongitudeDegrees>"
    "</Position><AltitudeMeters>100</AltitudeMeters><DistanceMeters>{p:.3f}</DistanceMeters>"
    "<HeartRateBpm><Value>140</Value></HeartRateBpm><Cadence>90</Cadence>"
    "<Extensions><n:TPX><n:Speed>{v:.4f}</n:Speed><n:Watts>250</n:Watts></n:TPX></Extensions>"
    "</Trackpoint>"
)


def test_tcx(ride, tmp_path):
    from math import degrees

    points = "".join(
        TCX_POINT.format(lat=44.5 + degrees(p / 6_371_008.8), s=int(t), v=v, p=p)
        for t, p, v in zip(ride["times"], ride["places"], ride["speeds"], strict=True)
    )
    path = tmp_path / "a.tcx"
    path.write_text(
        '<TrainingCenterDatabase xmlns="urn:a" xmlns:n="urn:n"><Activities><Activity><Lap>'
        f"<DistanceMeters>99</DistanceMeters><Track>{points}</Track></Lap></Activity>"
        "</Activities></TrainingCenterDatabase>",
        encoding="utf-8",
    )
    recording = read_recording(path)
    same_ride_as(recording, ride)
    assert recording.kind == "tcx"


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "the file is empty"),
        (b"PK\x03\x04", "packed file"),
        (b"<gpx><trk>", "not well-formed XML"),
        (b"<kml></kml>", "XML file of another kind (<kml>)"),
        (b'<!DOCTYPE x [<!ENTITY a "b">]><gpx>&a;</gpx>', "used to attack"),
        (b"\x00\x01\x02\x03", "not text"),
        (b"speed_mps\n3\n", "no column `time_s` or `time`"),
        (b"time_s,power_w\n0,200\n1,abc\n", 'row 3, column `power_w`: found: the text "abc"'),
        (b"time_s,power_w\n0,200\n1\n", "1 cells"),
        (b"time_s,power_w\n0,200\n", "1 samples"),
        (b"time_s,power_w\n0,200\n1,200\n", "neither position, distance nor speed"),
        (b"\x0e\x10\x00\x00\x00\x00\x00\x00.FITxx", "damaged"),
    ],
)
def test_wrong_files_are_told(tmp_path, content, words):
    path = tmp_path / "a.bin"
    path.write_bytes(content)
    with pytest.raises(InputError) as caught:
        read_recording(path)
    assert words in str(caught.value).replace("found the text", "found: the text").replace(
        "`: the text", "`: found: the text"
    )
    assert "a.bin" in str(caught.value)


def test_planned_route_has_no_times(tmp_path):
    path = tmp_path / "a.gpx"
    path.write_text(
        '<gpx><trk><trkseg><trkpt lat="1" lon="2"/><trkpt lat="1.1" lon="2"/></trkseg></trk></gpx>'
    )
    with pytest.raises(InputError, match="not a planned route"):
        read_recording(path)


def test_missing_file(tmp_path):
    with pytest.raises(InputError, match="there is no such file"):
        read_recording(tmp_path / "none.fit")


def test_csv_column_of_another_name_is_told(tmp_path):
    path = tmp_path / "ride.csv"
    path.write_text(
        "time_s,distance_m,Power (W),speed_mps,velocity,heart_rate\n"
        "0,0,200,8,1,140\n1,8,200,8,1,141\n2,16,200,8,1,142\n",
        encoding="utf-8",
    )
    recording = read_recording(path)
    assert not recording.has_power
    told = [repair.text for repair in recording.repairs if repair.kind == "column"]
    assert told == ["the column `power (w)` is not known and was left out; is it `power_w`?"]


def test_csv_column_is_not_asked_for_twice(tmp_path):
    path = tmp_path / "ride.csv"
    path.write_text(
        "time_s,distance_m,power_w,power_smoothed,speed_kmh,speed_mph\n"
        "0,0,200,201,28.8,17.9\n1,8,200,201,28.8,17.9\n",
        encoding="utf-8",
    )
    assert not [repair for repair in read_recording(path).repairs if repair.kind == "column"]


def test_csv_with_tabs(tmp_path):
    path = tmp_path / "ride.txt"
    path.write_text(
        "time_s\tspeed_kmh\tdistance_m\tpower_w\n0\t18,0\t0\t250\n1\t18.0\t5\t250\n2\t18\t10\t\n",
        encoding="utf-8",
    )
    recording = read_recording(path)
    np.testing.assert_allclose(recording.speeds_mps, 5.0)
    np.testing.assert_allclose(recording.distances_m, [0.0, 5.0, 10.0])


def csv_ride(tmp_path, times):
    path = tmp_path / "ride.csv"
    rows = "".join(f"{t},{45 + 8e-5 * i:.6f},-30,32,250\n" for i, t in enumerate(times))
    path.write_text("time_s,lat_deg,lon_deg,speed_kmh,power_w\n" + rows, encoding="utf-8")
    return path


def test_csv_times_as_hours_minutes_and_seconds_go_on_behind_midnight(tmp_path):
    times = ["23:59:58", "23:59:59.5", "0:00:00", "00:00:01", "0:00:03"]
    recording = read_recording(csv_ride(tmp_path, times))
    np.testing.assert_allclose(recording.times_s, [0.0, 1.5, 2.0, 3.0, 5.0])
    assert recording.start_time == ""


@pytest.mark.parametrize("wrong", ["12:30", "03.05.2026 09:00:01", "soon", "1:75:00"])
def test_csv_time_that_is_none_is_told_with_its_row(tmp_path, wrong):
    with pytest.raises(InputError, match=f'row 4, column `time_s`: the text "{wrong}"') as caught:
        read_recording(csv_ride(tmp_path, ["0:00:00", "0:00:01", wrong, "0:00:03"]))
    assert caught.value.expected.startswith("seconds, hours as in 1:02:03, or a date")


@pytest.mark.parametrize(
    ("times", "words"),
    [
        (range(0, 60_000, 1000), "a sample every 1,000 s; .*; are they milliseconds"),
        ([i / 60 for i in range(60)], "most positions lie further apart than any bicycle rides"),
        ([5] * 60, "all samples carry the same time"),
    ],
)
def test_csv_times_that_are_no_seconds(tmp_path, times, words):
    with pytest.raises(InputError, match=words):
        read_recording(csv_ride(tmp_path, list(times)))

"""Typical-year weather files: the usual wind of a month and hour."""

import math
from pathlib import Path

import numpy as np
import pytest

from simulator.cli import main
from simulator.errors import InputError
from simulator.ride import draw_values
from simulator.setup import load_weather, read_usual_hour, usual_weather_toml

DATA = Path(__file__).parent / "data"
EPW, TMY3 = DATA / "june_afternoons.epw", DATA / "june_afternoons_tmy3.csv"

# June, hour 14, worked out from the same files as pvlib 0.16.1 reads them (its read_epw and
# read_tmy3), with numpy's mean, std(ddof=1) and complex mean: days, mean wind and its spread (m/s),
# direction of the mean vector (degrees), mean vector over mean speed, temperature (degC),
# humidity (%), pressure (hPa), height (m).
BY_PVLIB = {
    EPW: (30, 1.2966667, 0.7649581, 155.408496, 0.30735836, 27.971667, 35.61, 998.963333, 250.0),
    TMY3: (30, 3.7633333, 1.3884954, 220.903903, 0.47478499, 28.28, 58.2, 984.7, 273.0),
}


@pytest.mark.parametrize("path", BY_PVLIB, ids=["epw", "tmy3"])
def test_means_and_spreads_as_another_reader_gives_them(path):
    usual = read_usual_hour(path, month=6, hour=14)
    got = (
        usual.n_days,
        usual.wind_mps.value,
        usual.wind_mps.sd,
        usual.wind_from_deg.value,
        usual.steadiness,
        usual.temperature_degc.value,
        usual.humidity_pct.value,
        usual.pressure_hpa.value,
        usual.station_height_m,
    )
    assert got == pytest.approx(BY_PVLIB[path], rel=1e-6)
    assert sum(usual.sector_shares) == pytest.approx(1.0, abs=1.0 / usual.n_days)
    mean_mps = sum(
        share * mps for share, mps in zip(usual.sector_shares, usual.sector_means_mps, strict=True)
    )
    assert mean_mps == pytest.approx(usual.wind_mps.value)


@pytest.mark.parametrize("path", BY_PVLIB, ids=["epw", "tmy3"])
def test_draws_of_the_weather_file_have_the_mean_vector_of_the_days(tmp_path, path):
    usual = read_usual_hour(path, month=6, hour=14)
    written = tmp_path / "usual.toml"
    written.write_text(usual_weather_toml(usual), encoding="utf-8")
    weather = load_weather(written)
    scores = np.random.default_rng(3).standard_normal((2, 200_000))
    winds_mps = draw_values("weather.wind_mps", weather.wind_mps, scores[0])
    from_rad = np.radians(draw_values("weather.wind_from_deg", weather.wind_from_deg, scores[1]))
    vector = np.mean(winds_mps * np.exp(1j * from_rad))
    assert winds_mps.mean() == pytest.approx(usual.wind_mps.value, rel=0.02)
    assert abs(vector) == pytest.approx(usual.steadiness * usual.wind_mps.value, rel=0.03)
    turn_deg = math.degrees(np.angle(vector)) - usual.wind_from_deg.value
    assert (turn_deg + 180.0) % 360.0 - 180.0 == pytest.approx(0.0, abs=3.0)


def made_epw(tmp_path, rows, height="12.0"):
    """A file in the published format with rows of (month, hour, wind, from)."""
    head = [f"LOCATION,Varrow,-,VAR,made,0,44.5,-35.5,-2.0,{height}", *["X"] * 7]
    body = [
        f"1990,{month},1,{hour},60,flags,15.0,9.0,70,101300,0,0,0,0,0,0,0,0,0,0,{side},{wind},9"
        for month, hour, wind, side in rows
    ]
    path = tmp_path / "made.epw"
    path.write_text("\n".join([*head, *body]) + "\n", encoding="latin-1")
    return path


def test_a_steady_wind_has_no_spread_and_a_balanced_one_no_side(tmp_path):
    steady = read_usual_hour(made_epw(tmp_path, [(3, 9, 6.0, 90)] * 12), month=3, hour=9)
    assert (steady.wind_mps.value, steady.wind_mps.sd) == (6.0, 0.0)
    assert steady.wind_from_deg.value == pytest.approx(90.0)
    assert steady.wind_from_deg.sd == pytest.approx(0.0, abs=1e-5)
    assert steady.sector_shares[2] == 1.0
    both = [(3, 9, 6.0, side) for side in (90, 270)] * 6
    balanced = read_usual_hour(made_epw(tmp_path, both), month=3, hour=9)
    assert balanced.steadiness == pytest.approx(0.0, abs=1e-9)
    assert balanced.wind_from_deg.sd == 180.0
    calm = read_usual_hour(made_epw(tmp_path, [(3, 9, 0.0, 0)] * 12), month=3, hour=9)
    assert (calm.wind_mps.value, calm.steadiness) == (0.0, 0.0)


def test_midnight_is_the_hour_24_of_the_file(tmp_path):
    rows = [(3, 24, 5.0, 10)] * 12 + [(3, 1, 9.0, 10)] * 12
    path = made_epw(tmp_path, rows)
    assert read_usual_hour(path, month=3, hour=0).wind_mps.value == 5.0
    assert read_usual_hour(path, month=3, hour=1).wind_mps.value == 9.0


def test_what_was_not_measured_is_left_out(tmp_path):
    rows = [(3, 9, 4.0, 90)] * 11 + [(3, 9, 999, 999)] * 5 + [(3, 9, "", "")] * 2
    usual = read_usual_hour(made_epw(tmp_path, rows), month=3, hour=9)
    assert (usual.n_days, usual.wind_mps.value) == (11, 4.0)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (
            lambda text: text.replace("LOCATION", "PLACE"),
            "expected a typical-year weather file in EPW",
        ),
        (lambda text: text.replace(",6.0,", ",six,"), 'line 9: found "six" for wind'),
        (lambda text: "\n".join(text.splitlines()[:12]), "4 usable days for month 3 at 9:00"),
        (lambda text: text.replace(",12.0", ",high"), 'line 1: found "high" for the height'),
        (lambda text: text.replace("flags,15.0,9.0", "flags"), "line 9: found 21 values"),
        (lambda text: "", "empty"),
    ],
)
def test_damaged_files_are_told(tmp_path, change, words):
    path = made_epw(tmp_path, [(3, 9, 6.0, 90)] * 12)
    path.write_text(change(path.read_text(encoding="utf-8")), encoding="utf-8")
    with pytest.raises(InputError) as caught:
        read_usual_hour(path, month=3, hour=9)
    assert words in str(caught.value)


@pytest.fixture
def buildgap(capsys):
    def run(*arguments):
        with pytest.raises(SystemExit) as left:
            main.run([str(argument) for argument in arguments])
        out = capsys.readouterr()
        assert "Traceback" not in out.err
        return left.value.code, out.out, out.err

    return run


def test_command_shows_the_usual_wind_and_writes_a_weather_file(buildgap, tmp_path):
    target = tmp_path / "june.toml"
    words = ("weather", TMY3, "--month", 6, "--hour", 14, "--out", target)
    code, out, err = buildgap(*words)
    assert (code, err) == (0, "")
    assert "13.5 ± 5.0 km/h" in out  # 3.763 and 1.388 m/s
    assert "South-west  40 %  16 km/h" in out
    assert max(map(len, out.splitlines()[:-1])) <= 80
    weather = load_weather(target)
    assert weather.wind_mps.value == pytest.approx(3.763, abs=0.02)
    assert weather.station_height_m == 273.0
    assert buildgap("check", target)[0] == 0
    code, _, err = buildgap(*words)
    assert code == 2
    assert "exists already" in err


def test_check_knows_typical_year_files(buildgap):
    for path in (EPW, TMY3):
        code, out, _ = buildgap("check", path)
        assert code == 0
        assert "typical-year weather file" in out


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ('<?xml version="1.0"?>\n<gpx version="1.1"><trk/></gpx>', "this is a GPX file, a track"),
        ("<?xml?><TrainingCenterDatabase/>", "this is a TCX file"),
        ("\x0e\x10\x00\x00\x00\x00\x00\x00.FIT\x00", "this is a FIT file"),
        ('name = "x"\nwind_kmh = 12\n', "a weather file for `--weather` already"),
        ("hour,wind\n1,2\n", "neither those of an EPW file nor those of a TMY3 file"),
    ],
)
def test_a_file_of_another_kind_is_told_as_such(tmp_path, text, words):
    path = tmp_path / "x"
    path.write_text(text, encoding="latin-1")
    with pytest.raises(InputError) as told:
        read_usual_hour(path, month=6, hour=12)
    assert words in str(told.value)
    assert "expected a typical-year weather file in EPW or TMY3 format" in str(told.value)


def test_a_month_without_data_is_told(buildgap):
    code, _, err = buildgap("weather", EPW, "--month", 1, "--hour", 14)
    assert code == 2
    assert "0 usable days for month 1 at 14:00" in err

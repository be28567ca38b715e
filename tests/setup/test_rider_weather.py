"""Rider and weather: units of the files become SI, defaults are stated, contradictions refused."""

import math

import pytest

from simulator.errors import InputError
from simulator.setup import (
    Uncertain,
    default_rider,
    default_weather,
    load_rider,
    load_weather,
)


@pytest.fixture
def written(tmp_path):
    def write(text):
        path = tmp_path / "file.toml"
        path.write_text(text, encoding="utf-8")
        return path

    return write


def test_without_a_file_the_defaults_hold():
    assert load_rider(None) == default_rider()
    assert load_weather(None) == default_weather()
    assert default_rider().source == "defaults of buildgap"
    assert default_weather().wind_mps == Uncertain(0.0)
    # Standard atmosphere at sea level [ISO2533]: 15 °C, 1013.25 hPa.
    assert default_weather().temperature_degc.value == 15.0
    assert default_weather().pressure_hpa.value == 1013.25


def test_default_climbing_position_is_the_published_ratio():
    # [Lim2011]: k of 0.175 (hoods) over 0.155 (drops) N/(m/s)².
    assert default_rider().positions.climbing_factor == pytest.approx(0.175 / 0.155, abs=0.005)


def test_rider_in_units_of_people_becomes_si(written):
    rider = load_rider(
        written(
            "mass_kg = 70\ncoast_grade_pct = -5\ncoast_speed_kmh = 54\ncp_w = 280\n"
            "wprime_kj = 18\n[positions]\nclimbing_grade_pct = 6\nclimbing_speed_kmh = 18\n"
            "tuck_grade_pct = -3\ntuck_speed_kmh = 36\n"
        )
    )
    assert rider.mass_kg == Uncertain(70.0)
    assert rider.coast_grade == pytest.approx(-0.05, rel=1e-15)
    assert rider.coast_speed_mps == pytest.approx(15.0, rel=1e-15)
    assert rider.wprime_j == 18_000.0
    assert rider.positions.climbing_grade == pytest.approx(0.06, rel=1e-15)
    assert rider.positions.climbing_speed_mps == pytest.approx(5.0, rel=1e-15)
    assert rider.positions.tuck_grade == pytest.approx(-0.03, rel=1e-15)
    assert rider.positions.tuck_speed_mps == pytest.approx(10.0, rel=1e-15)
    assert rider.source.startswith("file file.toml; defaults for kit_kg, power_w")


def test_weather_in_units_of_people_becomes_si(written):
    weather = load_weather(
        written("wind_kmh = { value = 18, sd = 3.6 }\nwind_from_deg = 270\nwet_road = true\n")
    )
    assert weather.wind_mps.value == pytest.approx(5.0, rel=1e-15)
    assert weather.wind_mps.sd == pytest.approx(1.0, rel=1e-15)
    assert weather.wind_from_deg == Uncertain(270.0)
    assert weather.is_wet


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("mass_kg = -70", "line 1, key `mass_kg`: found -70; expected a number from 25 to 200"),
        ("mass_kg = nan", "found nan; expected a finite number"),
        ("power = 250", "the unit belongs in the key: did you mean `power_w`?"),
        ("coast_grade_pct = 7", "found 7; expected a number from -50 to 0"),
        ("cadence_low_rpm = 90\ncadence_top_rpm = 80", "less than `cadence_top_rpm` (80)"),
        ("cp_w = 280", "line 1, key `cp_w`: `wprime_kj` is missing; expected both or neither"),
        ("wprime_kj = 20", "key `wprime_kj`: `cp_w` is missing"),
        ("wprime_j = 20000\ncp_w = 280", "mind the unit: did you mean `wprime_kj`?"),
        ("cp_w = 280\nwprime_kj = 20\nmax_power_w = 280", "expected more than `cp_w` (280)"),
        ("tuck_factor = 0.9", "it belongs in the table [positions]"),
        ("[positions]\ntuck_factor = 0.2", "line 2, key `positions.tuck_factor`: found 0.2"),
        ("braking_g = 4", "multiples of g"),
        ("lean_deg = true", "found `true`; expected a number"),
    ],
)
def test_wrong_riders(written, text, words):
    with pytest.raises(InputError) as caught:
        load_rider(written(text))
    assert words in str(caught.value)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("wind_kmh = 10", "the wind has no direction; expected `wind_from_deg`"),
        ("wind = 10", "the unit belongs in the key: did you mean `wind_kmh`?"),
        ("wind_mph = 10", "mind the unit: did you mean `wind_kmh`?"),
        ("wind_from_deg = 361", "found 361; expected a number from 0 to 360"),
        ("wind_kmh = -5\nwind_from_deg = 0", "found -5"),
        ("humidity_pct = 101", "found 101"),
        ("temperature_degc = 288", "found 288; expected a number from -30 to 55"),
        ("station_height_m = 800", "a height without its pressure"),
        ("pressure_hpa = 1013\nstation_height_m = 1500", "reduced to sea level"),
        ("pressure_hpa = 460\nstation_height_m = 4000", "expected about 470 to 705"),
        ("pressure_hpa = 101325", "found 101325"),
        ("pressure_hpa = 800", "found 800 for a height of 0 m"),
        ("wet_road = 'yes'", "expected `true` or `false`"),
    ],
)
def test_wrong_weather(written, text, words):
    with pytest.raises(InputError) as caught:
        load_weather(written(text))
    assert words in str(caught.value)


@pytest.mark.parametrize(
    ("height_m", "pressure_hpa"),
    # Standard atmosphere [ISO2533], geopotential heights.
    [(0, 1013.25), (500, 954.6084), (1000, 898.7456), (2000, 794.952), (3000, 701.0853),
     (4000, 616.4021)],
)  # fmt: skip
def test_pressures_of_the_standard_atmosphere_and_of_deep_lows_pass(
    written, height_m, pressure_hpa
):
    for share in (0.955, 1.0, 1.03):
        text = f"station_height_m = {height_m}\npressure_hpa = {pressure_hpa * share}"
        weather = load_weather(written(text))
        assert math.isclose(weather.pressure_hpa.value, pressure_hpa * share)

"""Weather that changes, gusts, and which pressure is meant."""

import math
from dataclasses import replace

import pytest

from simulator.errors import InputError
from simulator.setup import (
    Uncertain,
    default_weather,
    load_weather,
    ride_wind_sd_mps,
    turbulence_mps,
    with_gusts,
)

TURNING = """
start_clock = "9:30"
wind_kmh = { value = 18, sd = 3.6 }
wind_from_deg = 180
[[wind_at]]
clock = "10:00"
wind_kmh = 36
wind_from_deg = 270
[[wind_at]]
clock = "12:15"
wind_kmh = 0
wind_from_deg = 0
"""


@pytest.fixture
def weather_of(tmp_path):
    def load(text):
        path = tmp_path / "weather.toml"
        path.write_text(text, encoding="utf-8")
        return load_weather(path)

    return load


def test_times_of_day_become_seconds_since_the_start(weather_of):
    weather = weather_of(TURNING)
    assert [wind.time_s for wind in weather.winds] == [0.0, 1800.0, 9900.0]
    assert [wind.wind_mps for wind in weather.winds] == pytest.approx([5.0, 10.0, 0.0])
    assert [wind.wind_from_deg for wind in weather.winds] == [180.0, 270.0, 0.0]
    # The doubt stays with the wind at the start.
    assert weather.wind_mps.value == pytest.approx(5.0)
    assert weather.wind_mps.sd == pytest.approx(1.0)
    assert weather.start_clock_s == 9.5 * 3600.0


def test_a_wind_that_stays_has_no_table(weather_of):
    assert weather_of("wind_kmh = 5\nwind_from_deg = 9").winds == ()
    assert weather_of('start_clock = "09:00"').winds == ()


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (TURNING.replace('start_clock = "9:30"', ""), "times of day without that of the start"),
        (TURNING.replace("9:30", "24:30"), 'key `start_clock`: found "24:30"; expected a time of'),
        (TURNING.replace("12:15", "noon"), 'found "noon"; expected a time of day'),
        (TURNING.replace("12:15", "10:00"), "expected a time later than the start"),
        (TURNING.replace('"10:00"', '"9:30"'), "the wind at the start is told by `wind_kmh`"),
        (TURNING.replace("value = 18", "value = 0"), "a doubt about a wind that is calm"),
        (TURNING.replace("wind_kmh = 36", "wind_mps = 10"), "did you mean `wind_kmh`?"),
        ("wind_kmh = 20\nwind_from_deg = 0\ngust_kmh = 15", "at least the mean wind"),
        ('pressure_is = "QNH"', "key `pressure_is`"),
        ("pressure_hpa = 985", "forecasts give the pressure reduced to sea level"),
    ],
)
def test_contradictions_are_told(weather_of, text, words):
    if words.startswith("forecasts"):
        text += "\nstation_height_m = 900"
    with pytest.raises(InputError) as caught:
        weather_of(text)
    assert words in str(caught.value)


def test_reduced_pressure_may_come_with_the_height_of_the_thermometer(weather_of):
    weather = weather_of(
        'pressure_hpa = 1018\npressure_is = "reduced to sea level"\nstation_height_m = 900'
    )
    assert weather.is_pressure_reduced
    assert weather.station_height_m == 900.0
    assert not weather_of("pressure_hpa = 915\nstation_height_m = 900").is_pressure_reduced


def test_gust_factor_gives_the_turbulence():
    # [Wieringa1973]: gust factor 1 + 3 I. A gust of 1.6 times the mean is an intensity of 20 %,
    # that of open country 10 m up: I = 1 / ln(10 / 0.05) = 0.189 [EN1991].
    assert turbulence_mps(10.0, 16.0) / 10.0 == pytest.approx(1.0 / math.log(200.0), abs=0.012)
    assert turbulence_mps(10.0, 10.0) == 0.0


def test_length_of_gusts_is_that_of_the_published_formula():
    # [EN1991, annex B]: L = 300 (z / 200)^(0.67 + 0.05 ln z0), z 10 m, z0 0.03 m.
    length_m = 300.0 * (10.0 / 200.0) ** (0.67 + 0.05 * math.log(0.03))
    assert ride_wind_sd_mps(1.0, 40_000.0) == pytest.approx(
        math.sqrt(2.0 * length_m / 40_000.0), 0.01
    )
    # A ride shorter than the eddies meets one of them.
    assert ride_wind_sd_mps(2.0, 50.0) == 2.0


def test_gusts_enter_the_doubt_only():
    windy = replace(
        default_weather(),
        wind_mps=Uncertain(8.0, 0.5),
        wind_from_deg=Uncertain(90.0),
        gust_mps=14.0,
    )
    widened = with_gusts(windy, distance_m=10_000.0)
    assert widened.wind_mps.value == windy.wind_mps.value
    extra = math.sqrt(widened.wind_mps.sd**2 - 0.5**2)
    assert extra == pytest.approx(2.0 * math.sqrt(136.0 / 10_000.0))
    assert replace(widened, wind_mps=windy.wind_mps) == windy
    assert with_gusts(default_weather(), distance_m=1.0) == default_weather()

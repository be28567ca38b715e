"""The setup room: who rides what in which weather.

May import ``errors``, ``units`` and ``files``. Start reading at ``bike.py`` (a build and the
cause that each of its fields belongs to), then ``build_file.py`` (the keys that people write)
and ``defaults.py`` (what holds when they do not). Parts to buy stand in ``parts.py``.
"""

from simulator.setup.assemble import RideSetup, caution_of
from simulator.setup.bike import (
    CAUSE_OF_FIELD,
    CAUSES,
    LABEL_FIELDS,
    Build,
    differing_causes,
    fields_of_cause,
    mix_builds,
    numbered_apart,
)
from simulator.setup.build_file import BuildFile, load_build
from simulator.setup.by_keys import build_from_keys, rider_from_keys, weather_from_keys
from simulator.setup.defaults import SOURCE as DEFAULTS_SOURCE
from simulator.setup.defaults import CautionLevel
from simulator.setup.gearing import low_speed_mps, road_speed_mps, top_speed_mps
from simulator.setup.gusts import ride_wind_sd_mps, turbulence_mps, with_gusts
from simulator.setup.parts import (
    CENTS,
    CHANGED_FIELDS,
    FIELD_LIMITS,
    GEAR_FIELDS,
    Catalogue,
    Part,
    Slot,
    apply_parts,
    misfits,
    part_cents,
    together,
    with_gears,
)
from simulator.setup.parts_file import PartsFile, load_parts
from simulator.setup.rider import Positions, Rider
from simulator.setup.rider_file import RiderFile, default_rider, load_rider
from simulator.setup.typical_year import (
    UsualHour,
    is_typical_year,
    read_usual_hour,
    usual_weather_toml,
)
from simulator.setup.uncertain import Uncertain
from simulator.setup.weather import Weather, WindAt
from simulator.setup.weather_file import WeatherFile, default_weather, load_weather
from simulator.setup.wind_over_day import wind_table, winds_mps

__all__ = [
    "CAUSES",
    "CAUSE_OF_FIELD",
    "CENTS",
    "CHANGED_FIELDS",
    "DEFAULTS_SOURCE",
    "FIELD_LIMITS",
    "GEAR_FIELDS",
    "LABEL_FIELDS",
    "Build",
    "BuildFile",
    "Catalogue",
    "CautionLevel",
    "Part",
    "PartsFile",
    "Positions",
    "RideSetup",
    "Rider",
    "RiderFile",
    "Slot",
    "Uncertain",
    "UsualHour",
    "Weather",
    "WeatherFile",
    "WindAt",
    "apply_parts",
    "build_from_keys",
    "caution_of",
    "default_rider",
    "default_weather",
    "differing_causes",
    "fields_of_cause",
    "is_typical_year",
    "load_build",
    "load_parts",
    "load_rider",
    "load_weather",
    "low_speed_mps",
    "misfits",
    "mix_builds",
    "numbered_apart",
    "part_cents",
    "read_usual_hour",
    "ride_wind_sd_mps",
    "rider_from_keys",
    "road_speed_mps",
    "together",
    "top_speed_mps",
    "turbulence_mps",
    "usual_weather_toml",
    "weather_from_keys",
    "wind_table",
    "winds_mps",
    "with_gears",
    "with_gusts",
]

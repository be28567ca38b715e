"""Every example file loads, and every key of every schema stands in an example."""

import tomllib
from pathlib import Path

import pytest

from simulator.setup import (
    BuildFile,
    RiderFile,
    WeatherFile,
    load_build,
    load_rider,
    load_weather,
)

CONFIGS = Path(__file__).parents[2] / "configs"
EXAMPLES = {
    "plover.toml": (BuildFile, load_build),
    "gannet.toml": (BuildFile, load_build),
    "rider.toml": (RiderFile, load_rider),
    "weather.toml": (WeatherFile, load_weather),
}
FURTHER = {
    "gannet-bolder.toml": (BuildFile, load_build),
    "rider-long-day.toml": (RiderFile, load_rider),
    "weather-turning.toml": (WeatherFile, load_weather),
}
"""Examples that leave something to its default."""


@pytest.mark.parametrize("name", EXAMPLES)
def test_example_loads_and_says_where_it_comes_from(name):
    loaded = EXAMPLES[name][1](CONFIGS / name)
    assert loaded.name
    assert loaded.source == "made up for the examples"  # nothing is left to a default


@pytest.mark.parametrize("schema", [BuildFile, RiderFile, WeatherFile])
def test_every_key_stands_in_an_example(schema):
    told = set()
    for name, (its_schema, _) in (EXAMPLES | FURTHER).items():
        if its_schema is schema:
            told |= set(_keys(tomllib.loads((CONFIGS / name).read_text(encoding="utf-8"))))
    assert set(_schema_keys(schema)) <= told


@pytest.mark.parametrize("name", FURTHER)
def test_further_examples_load(name):
    loaded = FURTHER[name][1](CONFIGS / name)
    assert loaded.source.startswith("made up for the examples; defaults for ")


def test_plover_is_the_affordable_build():
    plover, gannet = load_build(CONFIGS / "plover.toml"), load_build(CONFIGS / "gannet.toml")
    assert plover.price < gannet.price
    assert plover.mass_kg.value > gannet.mass_kg.value
    assert plover.cda_m2.value > gannet.cda_m2.value
    assert plover.crr.value > gannet.crr.value


def test_rider_example_states_the_defaults_it_shows():
    # The comments call these the defaults of the habits; keep example and defaults together.
    rider, default = load_rider(CONFIGS / "rider.toml"), load_rider(None)
    assert rider.positions == default.positions
    assert (rider.lean_deg, rider.braking_g) == (default.lean_deg, default.braking_g)


def _keys(table, prefix=""):
    for name, value in table.items():
        yield prefix + name
        if isinstance(value, dict) and set(value) != {"value", "sd"}:
            yield from _keys(value, f"{prefix}{name}.")
        if isinstance(value, list) and value and isinstance(value[0], dict):
            for inner in value:
                yield from _keys(inner, f"{prefix}{name}.")


def _schema_keys(schema, prefix=""):
    for name, field in schema.model_fields.items():
        yield prefix + name
        # Of tables in a list, as `tuple[WindAtEntry, ...]`, the keys are those of the entry.
        for inner in (field.annotation, *getattr(field.annotation, "__args__", ())):
            fields = getattr(inner, "model_fields", {})
            if fields and set(fields) != {"value", "sd"}:
                yield from _schema_keys(inner, f"{prefix}{name}.")

"""Where names come from: terms of the trade, open standards, and the rest, plain words of ours."""

from __future__ import annotations

import re

TRADE = {
    "cda": "drag area, as in every paper on cycling drag",
    "crr": "coefficient of rolling resistance, as in every paper on tyres",
    "yaw": "angle of the apparent wind, from wind tunnels",
    "cp": "critical power, from physiology",
    "wprime": "W′, from physiology",
    "w′": "W′, from physiology",
    "power": "power at the pedals",
    "cadence": "turns of the cranks a minute",
    "chainrings": "parts of a bicycle",
    "sprockets": "parts of a bicycle",
    "drivetrain": "parts of a bicycle",
    "bearing": "parts of a bicycle",
    "wheel": "parts of a bicycle",
    "tyre": "parts of a bicycle",
    "tyres": "parts of a bicycle",
    "tuck": "a position on the bicycle",
    "climbing": "a position on the bicycle",
    "standing": "a position on the bicycle",
    "positions": "how one sits on a bicycle",
    "position": "how one sits on a bicycle",
    "pacing": "how effort is spread over a race",
    "climb": "a stretch of road",
    "climbs": "a stretch of road",
    "flats": "a stretch of road",
    "corner": "a bend",
    "corners": "a bend",
    "grade": "slope of a road",
    "steepest": "slope of a road",
    "lap": "once round a closed course",
    "laps": "once round a closed course",
    "split": "time over a part of a race",
    "splits": "time over a part of a race",
    "sprint": "the end of a race",
    "break": "riding away from the bunch",
    "bunch": "riders close together",
    "neutral": "roll-out before a race",
    "rider": "who rides",
    "bike": "what is ridden",
    "kit": "clothing and what is carried",
    "bottles": "clothing and what is carried",
    "coast": "rolling without pedalling",
    "surge": "a short effort",
    "build": "a bike with its parts",
    "part": "what a build is made of",
    "parts": "what a build is made of",
    "course": "what is ridden",
    "race": "what is ridden",
    "races": "what is ridden",
    "fieldtest": "a test on the road, as in papers on drag",
    "scale": "of a power meter",
    "zero": "of a power meter",
    "meter": "a power meter",
    "up": "metres of climbing",
    "radius": "of a bend",
    "lean": "of a bicycle in a bend",
    "brakes": "parts of a bicycle",
    "braking": "what brakes do",
    "grip": "friction of tyres",
    "resale": "of the market",
    "price": "of the market",
    "labour": "of the market",
    "currency": "of the market",
    "budget": "of the market",
    "budgets": "of the market",
    "gap": "time between riders, on the board of every race",
    "gate": "line across the road of a timed test",
    "mass": "of rider and bike",
    "turn": "of riders at the front",
    "track": "the line ridden, as recorded",
}
"""Words that racers, mechanics and papers use, and what they mean there."""

STANDARD = {
    "--json": "common practice of the command line",
    "--csv": "common practice of the command line",
    "--out": "common practice of the command line",
    "--overwrite": "common practice of the command line",
    "--quiet": "common practice of the command line",
    "--seed": "common practice of simulations",
    "--draws": "statistics",
    "--cluster": "common practice of computing",
    "--units": "common practice of the command line",
    "--download": "common practice of the command line",
    "lat_deg": "WGS 84",
    "lon_deg": "WGS 84",
    "sd": "standard deviation (GUM: standard uncertainty)",
    "temperature_degc": "meteorology",
    "pressure_hpa": "meteorology",
    "humidity_pct": "meteorology",
    "wind_kmh": "meteorology",
    "wind_from_deg": "meteorology: where it blows from",
    "--wind-from": "meteorology: where it blows from",
    "gust_kmh": "meteorology",
    "roughness_m": "meteorology: roughness length (EN 1991-1-4)",
    "station_height_m": "meteorology",
    "heading_deg": "navigation: clockwise from north",
    "index.html": "common practice of the web",
    "--tiles": "elevation tiles (HGT)",
    "tiles": "elevation tiles (HGT)",
    "zones": "GeoJSON (RFC 7946)",
    "weather": "meteorology",
    "--weather": "meteorology",
    "±": "standard uncertainty or interval, as its caption says",
}
"""Names as a whole that an open standard or a common practice gives."""


_SI = re.compile(r"(?:Mean |peak |…, )?(?:W|kJ|km|km/h|W/kg)")

_UNIT = re.compile(r"(?:_(?:w|kg|g|m|m2|kgm2|km|kmh|pct|deg|n|s|h|kj|rpm|bar|mps))+$|, \w+$")


def origin_of(name: str) -> str:
    """Where a name comes from, in words for the list."""
    if name in STANDARD:
        return f"standard: {STANDARD[name]}"
    if _SI.fullmatch(name):
        return "standard: SI"
    stem = name if name in TRADE else _UNIT.sub("", name)
    for word in re.split(r"[^a-z′]+", stem.lower()):
        if word in TRADE:
            return f"trade: {word}, {TRADE[word]}"
    return "own"

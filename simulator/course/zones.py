"""Zones drawn as polygons (GeoJSON): shelter, roughness and surface by stretch of road."""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from simulator.course.course import FloatArray
from simulator.errors import InputError
from simulator.files import nearest_text, read_text

# Factor on the wind at rider height. Common practice, no source: wind on a road between houses or
# under trees is gusty and turns; the factor stands for the mean along the road.
SHELTERS = {"open": 1.0, "hedges": 0.7, "buildings": 0.5, "forest": 0.4}
# (factor on rolling resistance, factor on grip) against smooth dry asphalt. Common practice, no
# source.
SURFACES = {
    "smooth": (1.0, 1.0),
    "worn": (1.2, 0.95),
    "rough": (1.5, 0.9),
    "cobbles": (2.5, 0.75),
    "gravel": (2.2, 0.6),
}
_KEYS = ("shelter", "roughness_m", "surface", "crr_factor", "grip_factor", "name")
MAX_BYTES = 5_000_000
MAX_FEATURES = 2_000
# A border that crosses itself a few times, as a hand draws it, is mended; the time for that grows
# with the square of the crossings (measured: 200 points thrown at random, 14 s).
MAX_MENDED_POINTS = 1_000
MAX_SELF_CROSSINGS = 20
MAX_ROUGHNESS_M = 0.1


@dataclass(frozen=True, slots=True, kw_only=True)
class Exposure:
    """What the road and its surroundings are like; None leaves what was there before."""

    shelter: float | None = None
    roughness_m: float | None = None
    crr_factor: float | None = None
    grip_factor: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Zone:
    """A polygon and what holds inside it; later zones win over earlier ones."""

    name: str
    area: Any
    exposure: Exposure


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """A part of the lap inside a zone."""

    start_m: float
    end_m: float
    exposure: Exposure


def read_zones(path: Path) -> tuple[Zone, ...]:
    """Read a GeoJSON file of polygons.

    Parameters
    ----------
    path : Path
        A FeatureCollection of Polygon or MultiPolygon features in longitude and latitude, each
        with one or more of the properties ``shelter`` (a word of `SHELTERS` or a number from 0
        to 1), ``roughness_m``, ``surface`` (a word of `SURFACES`), ``crr_factor``,
        ``grip_factor``, and ``name``.

    Returns
    -------
    tuple of Zone

    Raises
    ------
    InputError
        If the file is not that.
    """
    try:
        data = json.loads(read_text(path, max_bytes=MAX_BYTES, kind="GeoJSON"))
    except ValueError as error:
        line = getattr(error, "lineno", None)
        raise InputError(
            file=str(path),
            place=f"line {line}" if line else "",
            found="not JSON",
            expected="GeoJSON",
        ) from None
    except RecursionError:
        raise InputError(file=str(path), found="too deeply nested", expected="GeoJSON") from None
    features = data.get("features") if isinstance(data, dict) else None
    if not isinstance(features, list):
        raise InputError(
            file=str(path), found="no list of features", expected="a GeoJSON FeatureCollection"
        )
    if len(features) > MAX_FEATURES:
        raise InputError(
            file=str(path),
            found=f"{len(features)} features",
            expected=f"at most {MAX_FEATURES}",
            mend="leave out those far from the course",
        )
    return tuple(
        _zone(feature, f"feature {i_feature}", str(path))
        for i_feature, feature in enumerate(features, start=1)
    )


def _zone(feature: Any, place: str, file: str) -> Zone:
    import shapely

    geometry = feature.get("geometry") if isinstance(feature, dict) else None
    kind = geometry.get("type") if isinstance(geometry, dict) else None
    if kind not in ("Polygon", "MultiPolygon"):
        raise InputError(
            file=file, place=place, found=f"geometry {kind}", expected="Polygon or MultiPolygon"
        )
    try:
        area = _mended(shapely.from_geojson(json.dumps(geometry)), place, file)
    except (shapely.errors.ShapelyError, ValueError):
        raise InputError(
            file=file,
            place=place,
            found="a polygon that cannot be read",
            expected="rings of [longitude, latitude] that end where they start",
        ) from None
    bounds = np.array(shapely.bounds(area))
    if not np.all(np.isfinite(bounds)) or np.abs(bounds[[1, 3]]).max() > 90.0:
        raise InputError(
            file=file,
            place=place,
            found="a polygon that is empty or off the globe",
            expected="longitude first, then latitude",
        )
    properties = feature.get("properties") or {}
    known = {key: value for key, value in properties.items() if key in _KEYS}
    unknown = sorted(set(properties) - set(_KEYS))
    if unknown:
        raise InputError(
            file=file,
            place=place,
            found=f"property `{unknown[0]}` is not known",
            mend=nearest_text(unknown[0], _KEYS),
        )
    crr, grip = None, None
    if "surface" in known:
        crr, grip = _word(known["surface"], SURFACES, "surface", place, file)
    shelter = known.get("shelter")
    if isinstance(shelter, str):
        shelter = _word(shelter, SHELTERS, "shelter", place, file)
    return Zone(
        name=str(known.get("name", place)),
        area=area,
        exposure=Exposure(
            shelter=_number(shelter, "shelter", 0.0, 1.0, place, file),
            roughness_m=_number(
                known.get("roughness_m"), "roughness_m", 1e-4, MAX_ROUGHNESS_M, place, file
            ),
            crr_factor=_number(known.get("crr_factor", crr), "crr_factor", 0.5, 10.0, place, file),
            grip_factor=_number(
                known.get("grip_factor", grip), "grip_factor", 0.1, 1.5, place, file
            ),
        ),
    )


def _mended(area: Any, place: str, file: str) -> Any:
    """The area itself, or its outline cleaned where it crosses itself now and then."""
    import shapely

    if shapely.is_valid(area):
        return area
    points = shapely.get_coordinates(area)
    edges = shapely.linestrings(np.stack([points[:-1], points[1:]], axis=1))
    is_long = len(points) > MAX_MENDED_POINTS
    if not is_long:
        pairs = shapely.STRtree(edges).query(edges, predicate="crosses")
    if is_long or len(pairs[0]) > 2 * MAX_SELF_CROSSINGS:
        raise InputError(
            file=file,
            place=place,
            found="the border of the polygon crosses itself again and again",
            expected="a border that goes round once",
            mend="draw the zone again",
        )
    return shapely.make_valid(area)


def _word(value: Any, words: dict[str, Any], key: str, place: str, file: str) -> Any:
    if value in words:
        return words[value]
    raise InputError(
        file=file,
        place=place,
        found=f"{key} {value!r}",
        expected="one of " + ", ".join(words),
        mend=word_advice(value, words),
    )


def word_advice(value: object, words: dict[str, Any]) -> str:
    """Which word of `SHELTERS` or `SURFACES` a mistyped one may have meant; empty for none."""
    told = nearest_text(value, words) if isinstance(value, str) else ""
    return told if told.startswith(("did", "capitals")) else ""  # the list stands beside it


def _number(value: Any, key: str, low: float, high: float, place: str, file: str) -> float | None:
    if value is None:
        return None
    if isinstance(value, bool) or not isinstance(value, int | float) or not low <= value <= high:
        raise InputError(
            file=file,
            place=place,
            found=f"{key} {value!r}",
            expected=f"a number from {low:g} to {high:g}",
        )
    return float(value)


def stretches_of_zones(
    zones: tuple[Zone, ...], lats_deg: FloatArray, lons_deg: FloatArray, places_m: FloatArray
) -> tuple[Stretch, ...]:
    """Where the road runs inside each zone, with exact entries and exits.

    Parameters
    ----------
    zones : tuple of Zone
    lats_deg, lons_deg : (n,) arrays
        The smooth road, finely sampled; longitudes may run on beyond 180.
    places_m : (n,) array
        Distance along the lap of each sample.

    Returns
    -------
    tuple of Stretch
        In the order of the zones.
    """
    if not zones:
        return ()
    import shapely

    lons = (lons_deg + 180.0) % 360.0 - 180.0
    starts = np.stack([lons[:-1], lats_deg[:-1]], axis=1)
    ends = np.stack([lons[1:], lats_deg[1:]], axis=1)
    legs = shapely.linestrings(np.stack([starts, ends], axis=1))
    tree = shapely.STRtree(legs)
    found = []
    for zone in zones:
        cuts = _crossings_m(zone.area, starts, ends, places_m, tree)
        bounds = np.unique(np.concatenate(([places_m[0]], cuts, [places_m[-1]])))
        middles = 0.5 * (bounds[:-1] + bounds[1:])
        inside = shapely.contains_xy(
            zone.area, np.interp(middles, places_m, lons), np.interp(middles, places_m, lats_deg)
        )
        # A shorter stretch than this is rounding at a border, not road.
        for i_part in np.flatnonzero(inside & (np.diff(bounds) > 1e-3)):
            found.append(
                Stretch(
                    start_m=float(bounds[i_part]),
                    end_m=float(bounds[i_part + 1]),
                    exposure=zone.exposure,
                )
            )
    return tuple(found)


def _crossings_m(
    area: Any, starts: FloatArray, ends: FloatArray, places_m: FloatArray, tree: Any
) -> FloatArray:
    """Places where legs cross the border of an area."""
    import shapely

    rings = shapely.get_parts(shapely.boundary(area))
    edges_from, edges_to = [], []
    for ring in rings:
        points = shapely.get_coordinates(ring)
        edges_from.append(points[:-1])
        edges_to.append(points[1:])
    if not edges_from:
        return np.empty(0)
    a, b = np.concatenate(edges_from), np.concatenate(edges_to)
    i_edge, i_leg = tree.query(
        shapely.linestrings(np.stack([a, b], axis=1)), predicate="intersects"
    )
    leg, edge = ends[i_leg] - starts[i_leg], b[i_edge] - a[i_edge]
    away = a[i_edge] - starts[i_leg]
    turn = leg[:, 0] * edge[:, 1] - leg[:, 1] * edge[:, 0]
    with np.errstate(invalid="ignore", divide="ignore"):
        share = (away[:, 0] * edge[:, 1] - away[:, 1] * edge[:, 0]) / turn
    is_sound = np.isfinite(share)  # a leg along the border crosses it at its neighbours
    share = np.clip(share[is_sound], 0.0, 1.0)
    from_m, to_m = places_m[i_leg[is_sound]], places_m[i_leg[is_sound] + 1]
    return np.asarray(from_m + share * (to_m - from_m))


def exposure_arrays(
    middles_m: FloatArray, stretches: tuple[Stretch, ...], default: Exposure
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Shelter, roughness, rolling and grip factors of segments.

    Parameters
    ----------
    middles_m : (n,) array
        Middle of each segment along the lap.
    stretches : tuple of Stretch
        Later ones win.
    default : Exposure
        Complete.

    Returns
    -------
    shelters, roughnesses_m, crr_factors, grip_factors : (n,) arrays
    """
    arrays = []
    for name in ("shelter", "roughness_m", "crr_factor", "grip_factor"):
        values = np.full(len(middles_m), float(getattr(default, name)))
        for stretch in stretches:
            value = getattr(stretch.exposure, name)
            if value is not None:
                low, high = np.searchsorted(middles_m, [stretch.start_m, stretch.end_m])
                values[low:high] = value
        arrays.append(values)
    return arrays[0], arrays[1], arrays[2], arrays[3]

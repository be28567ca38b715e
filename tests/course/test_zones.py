"""Zones: exact entries and exits, words and numbers, what wins, what is refused."""

import json

import numpy as np
import pytest

from simulator.course import build_course
from simulator.errors import InputError

HEIGHT = 20.0
CENTIMETRES = 0.05


def square(place, west, south, east, north):
    lats, lons = place(
        np.array([west, east, east, west], dtype=float),
        np.array([south, south, north, north], dtype=float),
    )
    ring = [[float(x), float(y)] for x, y in zip(lons, lats, strict=True)]
    return [*ring, ring[0]]


@pytest.fixture
def road_with_zones(made_road, sample_road, write_gpx, tmp_path):
    """1 km due north, with zones: a list of (properties, geometry)."""
    lats, lons = sample_road(made_road([(1000.0, np.inf)]), 5.0)
    write_gpx(lats, lons, [HEIGHT] * len(lats), name="track.gpx")

    def make(zones, text=""):
        features = [
            {"type": "Feature", "properties": properties, "geometry": geometry}
            for properties, geometry in zones
        ]
        (tmp_path / "zones.geojson").write_text(
            json.dumps({"type": "FeatureCollection", "features": features})
        )
        file = tmp_path / "course.toml"
        file.write_text(f'name = "made"\nzones = "zones.geojson"\n{text}\n')
        return file

    return make


def polygon(*rings):
    return {"type": "Polygon", "coordinates": list(rings)}


def spans(course, values, value):
    """Stretches where values equal value: list of (start, end)."""
    is_in = np.concatenate(([0], np.isclose(values, value).astype(int), [0]))
    edges = np.flatnonzero(np.diff(is_in))
    nodes = course.node_distances_m
    return [(nodes[a], nodes[b]) for a, b in zip(edges[::2], edges[1::2], strict=True)]


def test_entry_and_exit_are_exact(road_with_zones, place):
    zone = polygon(square(place, -50, 312.3, 50, 517.7))
    course = build_course(road_with_zones([({"shelter": "forest"}, zone)]))
    ((start, end),) = spans(course, course.shelters, 0.4)
    assert start == pytest.approx(312.3, abs=CENTIMETRES)
    assert end == pytest.approx(517.7, abs=CENTIMETRES)
    assert (course.shelters[course.shelters != 0.4] == 1.0).all()


def test_slanting_border_ring_with_hole_and_two_passes(road_with_zones, place):
    lats, lons = place(np.array([-100.0, 100.0, 100.0, -100.0]), np.array([100.0, 300, 800, 600]))
    outer = [[float(x), float(y)] for x, y in zip(lons, lats, strict=True)]
    outer.append(outer[0])
    hole = square(place, -20, 400, 20, 450)
    course = build_course(
        road_with_zones([({"roughness_m": 0.1, "crr_factor": 1.3}, polygon(outer, hole))])
    )
    expected = [(200.0, 400.0), (450.0, 700.0)]
    np.testing.assert_allclose(spans(course, course.roughnesses_m, 0.1), expected, atol=CENTIMETRES)
    np.testing.assert_allclose(spans(course, course.crr_factors, 1.3), expected, atol=CENTIMETRES)
    assert (course.shelters == 1.0).all()


def test_later_zones_win_and_leave_what_they_do_not_say(road_with_zones, place):
    zones = [
        ({"shelter": "forest", "surface": "gravel"}, polygon(square(place, -50, 200, 50, 600))),
        ({"shelter": 0.9}, polygon(square(place, -50, 300, 50, 400))),
    ]
    course = build_course(road_with_zones(zones, 'shelter = "hedges"\nsurface = "worn"'))
    np.testing.assert_allclose(spans(course, course.shelters, 0.9), [(300, 400)], atol=CENTIMETRES)
    np.testing.assert_allclose(
        spans(course, course.shelters, 0.4), [(200, 300), (400, 600)], atol=CENTIMETRES
    )
    np.testing.assert_allclose(
        spans(course, course.crr_factors, 2.2), [(200, 600)], atol=CENTIMETRES
    )
    assert course.shelters[0] == 0.7
    assert course.crr_factors[0] == 1.2
    assert course.grip_factors[0] == 0.95


def test_a_road_ridden_twice_is_sheltered_twice(place, write_gpx, tmp_path, made_road, sample_road):
    road = made_road([(500.0, np.inf), (np.pi * 5.0, 5.0), (500.0, np.inf)])
    lats, lons = sample_road(road, 3.0)
    write_gpx(lats, lons, [HEIGHT] * len(lats), name="track.gpx")
    zone = polygon(square(place, -50, 100, 50, 200))
    (tmp_path / "z.geojson").write_text(
        json.dumps(
            {
                "type": "FeatureCollection",
                "features": [{"type": "Feature", "properties": {"shelter": 0.2}, "geometry": zone}],
            }
        )
    )
    (tmp_path / "course.toml").write_text('name = "made"\nzones = "z.geojson"\n')
    course = build_course(tmp_path)
    end_m = 1000.0 + np.pi * 5.0
    np.testing.assert_allclose(
        spans(course, course.shelters, 0.2),
        [(100, 200), (end_m - 200, end_m - 100)],
        atol=0.5,
    )


def test_multipolygon(road_with_zones, place):
    zone = {
        "type": "MultiPolygon",
        "coordinates": [
            [square(place, -50, 100, 50, 150)],
            [square(place, -50, 300, 50, 350)],
        ],
    }
    course = build_course(road_with_zones([({"shelter": "buildings"}, zone)]))
    np.testing.assert_allclose(
        spans(course, course.shelters, 0.5), [(100, 150), (300, 350)], atol=CENTIMETRES
    )


@pytest.mark.parametrize(
    ("properties", "geometry", "words"),
    [
        ({"shelter": "wood"}, None, "feature 1: shelter 'wood'"),
        ({"shelter": 1.5}, None, "number from 0 to 1"),
        ({"shelter": True}, None, "number from 0 to 1"),
        ({"surface": "mud"}, None, "smooth, worn"),
        ({"sheltr": 0.5}, None, "did you mean `shelter`"),
        ({"roughness_m": 0.5}, None, "0.1"),
        ({"shelter": 0.5}, {"type": "Point", "coordinates": [0, 0]}, "geometry Point"),
        ({"shelter": 0.5}, {"type": "Polygon", "coordinates": [[[0, 0], [1, 1]]]}, "polygon"),
        ({"shelter": 0.5}, {"type": "Polygon", "coordinates": []}, "empty"),
        (
            {"shelter": 0.5},
            {"type": "Polygon", "coordinates": [[[44, -135], [44, -136], [45, -136], [44, -135]]]},
            "longitude first",
        ),
    ],
)
def test_wrong_zones_get_a_sentence(road_with_zones, place, properties, geometry, words):
    geometry = geometry or polygon(square(place, -50, 100, 50, 200))
    with pytest.raises(InputError, match=words):
        build_course(road_with_zones([(properties, geometry)]))


@pytest.mark.parametrize("text", ["{", "[]", '{"type": "FeatureCollection"}', "null", "[" * 5000])
def test_wrong_geojson(road_with_zones, tmp_path, text):
    file = road_with_zones([])
    (tmp_path / "zones.geojson").write_text(text)
    with pytest.raises(InputError, match=r"zones\.geojson"):
        build_course(file)

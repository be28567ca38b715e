"""GPX to Course: time, memory and how both grow. Run by ``make bench``; never gates.

Beside it, parsing alone with gpxpy, the general-purpose reference: nothing that reads the same
file through it can be quicker.
"""

import tracemalloc

import gpxpy
import numpy as np
import pytest

from simulator.course import build_course


def write_course(folder, n_points):
    """A winding, hilly ride with a point every 10 m, heights and times."""
    k = np.arange(n_points)
    along = 10.0 * k
    heading = 0.8 * np.sin(along / 400.0) + 0.3 * np.sin(along / 90.0)
    north, east = np.cumsum(10.0 * np.cos(heading)), np.cumsum(10.0 * np.sin(heading))
    lats = 0.0 + north / 111_000.0
    lons = east / 111_000.0
    heights = 200.0 + 60.0 * np.sin(along / 1500.0) + 12.0 * np.sin(along / 400.0)
    when = np.datetime64("2026-05-03T09:00:00") + k.astype("timedelta64[s]")
    rows = "\n".join(
        f'<trkpt lat="{a:.7f}" lon="{b:.7f}"><ele>{h:.1f}</ele><time>{t}Z</time></trkpt>'
        for a, b, h, t in zip(lats, lons, heights, when, strict=True)
    )
    path = folder / f"{n_points}.gpx"
    path.write_text(
        '<gpx version="1.1" xmlns="http://www.topografix.com/GPX/1/1">'
        f"<trk><trkseg>{rows}</trkseg></trk></gpx>"
    )
    return path


@pytest.mark.parametrize("km", [50, 200, 1000])
def test_gpx_to_course(benchmark, tmp_path, km):
    path = write_course(tmp_path, 100 * km)
    build_course(path)
    course = benchmark.pedantic(build_course, args=(path,), rounds=3)
    benchmark.extra_info["segments"] = course.n_segments
    assert course.distance_m == pytest.approx(1000.0 * km, rel=0.02)


@pytest.mark.parametrize("km", [200])
def test_reference_parsing_alone(benchmark, tmp_path, km):
    text = write_course(tmp_path, 100 * km).read_text()
    gpx = benchmark.pedantic(gpxpy.parse, args=(text,), rounds=3)
    assert len(gpx.tracks[0].segments[0].points) == 100 * km


def test_memory(benchmark, tmp_path):
    path = write_course(tmp_path, 20_000)

    def peak_mb():
        tracemalloc.start()
        build_course(path)
        peak = tracemalloc.get_traced_memory()[1]
        tracemalloc.stop()
        return peak / 1e6

    peak = benchmark.pedantic(peak_mb, rounds=1)
    benchmark.extra_info["peak_mb"] = round(peak)
    assert peak < 300.0

"""Files far larger or deeper than any ride: refused or read, in bounded memory and time.

Each is made, read in a process of its own, and measured there.
"""

import json
import random
import subprocess
import sys

import pytest

MB = 1_000_000
HUGE_BYTES = 99 * MB
MOST_MB = 500
"""Above what the program needs to start; the limit that DESIGN sets for everything."""
MOST_S = 150.0
"""A runaway would take hours; the machine may be busy with other tests."""

READ = """
import json, resource, sys, time
from pathlib import Path
import scipy.interpolate, shapely, fitdecode
from simulator.errors import InputError
from simulator.course import build_course, read_track
from simulator.course.zones import read_zones
from simulator.recordings import read_recording
from simulator.setup import load_build, read_usual_hour
def usual(path):
    return read_usual_hour(path, month=6, hour=14)
readers = dict(track=read_track, recording=read_recording, zones=read_zones, toml=load_build,
               year=usual, course=build_course)
def peak_kb():
    # Linux hands the peak of the parent, a long run of tests, on in ru_maxrss; VmHWM is its own.
    status = Path("/proc/self/status")
    if status.exists():
        return int(status.read_text().split("VmHWM:")[1].split()[0])
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
before = peak_kb()
answers = []
for reader, path in zip(sys.argv[1::2], sys.argv[2::2]):
    start_s = time.perf_counter()
    try:
        readers[reader](Path(path))
        told = ""
    except InputError as error:
        told = str(error)
    grown = (peak_kb() - before) / 1000.0
    answers.append([told, grown, time.perf_counter() - start_s])
print(json.dumps(answers))
"""


def measured(*readers_and_paths):
    """For each file: what was told ("" if taken), memory grown so far in MB, seconds."""
    done = subprocess.run(
        [sys.executable, "-c", READ, *map(str, readers_and_paths)],
        capture_output=True,
        text=True,
        timeout=600,
        check=True,
    )
    return json.loads(done.stdout.splitlines()[-1])


def write_rows(path, head, row, tail, n_bytes):
    """Rows until the file has its size."""
    with path.open("w", encoding="utf-8", newline="\n") as stream:
        size, i = stream.write(head), 0
        while size < n_bytes - 50_000:
            size += stream.write("".join(row(i + k) for k in range(200)))
            i += 200
        stream.write(tail)


def _when(i):
    return (
        f"2026-06-{1 + i // 86400 % 28:02d}T{i // 3600 % 24:02d}:{i // 60 % 60:02d}:{i % 60:02d}Z"
    )


def _point(i):
    return (
        f'<trkpt lat="{44 + i * 1e-6:.6f}" lon="-35"><ele>{i % 99}</ele><time>{_when(i)}</time>'
        "<extensions><power>250</power><x><hr>120</hr></x></extensions></trkpt>\n"
    )


GPX = '<gpx version="1.1" xmlns="http://www.topografix.com/GPX/1/1"><trk><trkseg>'
GPX_END = "</trkseg></trk></gpx>"
HUGE = {
    # name: (reader, file, head, row, tail, words of the refusal or "" if it is taken)
    "track": ("track", "a.gpx", GPX, _point, GPX_END, ""),
    "bare points": ("track", "a.gpx", GPX, lambda _: '<trkpt lat="1" lon="1"/>', GPX_END, "points"),
    "deep XML": ("track", "a.gpx", "<gpx>", lambda _: "<a>", "", "nested"),
    "deep XML recording": ("recording", "a.gpx", "<gpx>", lambda _: "<a>", "", "nested"),
    "names": ("track", "a.gpx", "<gpx>", lambda i: f"<a{i}/>", "</gpx>", "different elements"),
    "ride": ("recording", "a.gpx", GPX, _point, GPX_END, ""),
    "CSV": ("recording", "a.csv", "time_s,power_w\n", lambda i: f"{i},250\n", "", "samples"),
    "CSV cell": ("recording", "a.csv", 'time_s\n"', lambda _: "1,2\n", "", "quotation mark"),
    "CSV line": ("recording", "a.csv", "time_s\n", lambda _: "1,", "", "without end"),
    "zones": ("zones", "a.geojson", '{"features":[', lambda _: "{},", "{}]}", "larger than 5 MB"),
    "TOML": ("toml", "a.toml", "", lambda i: f"a{i} = 1\n", "", "larger than 1 MB"),
    "year": ("year", "a.epw", "LOCATION,x\n", lambda _: "1,6,1,14\n", "", "larger than 40 MB"),
}


@pytest.mark.slow
@pytest.mark.parametrize("name", HUGE)
def test_file_of_a_hundred_megabytes(tmp_path, name):
    reader, file, head, row, tail, words = HUGE[name]
    write_rows(tmp_path / file, head, row, tail, HUGE_BYTES)
    ((told, grown_mb, took_s),) = measured(reader, tmp_path / file)
    assert words in told
    assert bool(told) == bool(words)
    assert grown_mb < MOST_MB
    assert took_s < MOST_S


def _laughs():
    entities = "".join(
        f'<!ENTITY {chr(98 + i)} "{("&" + chr(97 + i) + ";") * 10}">' for i in range(9)
    )
    return f'<!DOCTYPE l [<!ENTITY a "ha">{entities}]><gpx><trk><name>&j;</name></trk></gpx>'


def _star(n):
    thrown = random.Random(1)
    ring = [[-36 + thrown.random(), 44 + thrown.random()] for _ in range(n)]
    geometry = {"type": "Polygon", "coordinates": [[*ring, ring[0]]]}
    return json.dumps({"features": [{"properties": {}, "geometry": geometry}]})


SMALL_AND_UNKIND = {
    "billion laughs": ("track", _laughs(), "entities"),
    "billion laughs as a ride": ("recording", _laughs(), "entities"),
    "outside entity": (
        "track",
        '<!DOCTYPE g [<!ENTITY x SYSTEM "file:///etc/hostname">]><gpx><name>&x;</name></gpx>',
        "entities",
    ),
    "deep JSON": ("zones", "[" * 4_900_000, "nested"),
    "deep TOML": ("toml", "a = " + "[\n" * 300_000, "nested"),
    "dotted TOML": ("toml", "\n".join(f"{'a.' * 900}b{i} = 1" for i in range(100)), "nested"),
    "many keys": ("toml", "\n".join(f"a{i} = 1" for i in range(90_000)), "more problems"),
    "border at random": ("zones", _star(900), "crosses itself"),
    "border at random, long": ("zones", _star(90_000), "crosses itself"),
    "a leg across the sea": (
        "course",
        '<gpx><trk><trkseg><trkpt lat="1" lon="1"><ele>1</ele></trkpt>'
        '<trkpt lat="9" lon="9"><ele>1</ele></trkpt></trkseg></trk></gpx>',
        "km away",
    ),
}


def test_small_files_that_would_grow(tmp_path):
    asked = []
    for i, (reader, text, _) in enumerate(SMALL_AND_UNKIND.values()):
        suffix = {"zones": "geojson", "toml": "toml"}.get(reader, "gpx")
        path = tmp_path / f"{i}.{suffix}"
        path.write_text(text, encoding="utf-8")
        asked += [reader, path]
    answers = measured(*asked)
    for (name, (_, _, words)), (told, grown_mb, took_s) in zip(
        SMALL_AND_UNKIND.items(), answers, strict=True
    ):
        assert words in told, name
        assert grown_mb < MOST_MB, name
        assert took_s < 30.0, name

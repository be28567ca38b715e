"""Same files, same seed: the same bytes, in every process and with any number of threads."""

import importlib.util
import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
JOBS = ["compare", "ride", "spend", "infer", "runs", "verdict", "try", "solve", "bunch", "races"]
WORLDS = [
    {"NUMBA_NUM_THREADS": "1", "PYTHONHASHSEED": "1", "OPENBLAS_NUM_THREADS": "1"},
    {"NUMBA_NUM_THREADS": "2", "PYTHONHASHSEED": "2", "OPENBLAS_NUM_THREADS": "2"},
]
NO_NETWORK = """
import socket, sys
def refused(*_, **__):
    raise AssertionError("the network was asked for")
socket.socket.connect = socket.socket.connect_ex = refused
socket.socket.sendto = socket.create_connection = socket.getaddrinfo = refused
from simulator.cli.main import run
run()
"""


def _load(path):
    spec = importlib.util.spec_from_file_location(path.stem, path)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


hostile = _load(Path(__file__).parent / "hostile_files.py")


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    return hostile.hostile_set(tmp_path_factory.mktemp("set"))


def files_in(folder):
    return {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for path in folder.rglob("*")
        if path.is_file()
    }


@pytest.mark.slow
@pytest.mark.parametrize("job", JOBS)
def test_same_bytes_with_other_threads_and_without_a_network(folder, tmp_path, job):
    """Each run is a process of its own, in which no socket can be opened."""
    results = []
    for number, world in enumerate(WORLDS):
        out = tmp_path / str(number)
        done = subprocess.run(
            [sys.executable, "-c", NO_NETWORK, *hostile.commands(folder, out)[job]],
            capture_output=True,
            cwd=ROOT,
            env={**os.environ, **world},
            timeout=600,
            check=False,
        )
        assert done.returncode == 0, done.stderr.decode()
        shown = done.stdout.replace(str(out).encode(), b"OUT")
        results.append((shown, files_in(out)))
    (shown_1, files_1), (shown_2, files_2) = results
    assert files_1
    assert set(files_1) == set(files_2)
    for name, data in files_1.items():
        assert data == files_2[name], name
    assert shown_1 == shown_2


def test_missing_tile_asks_no_network(tmp_path):
    """The one reader whose library knows web addresses: it is not let to use them."""
    track = "".join(f'<trkpt lat="{45 + i * 1e-4:.6f}" lon="-30"/>' for i in range(99))
    (tmp_path / "a.gpx").write_text(f"<gpx><trk><trkseg>{track}</trkseg></trk></gpx>")
    (tmp_path / "tiles").mkdir()
    words = ["course", "check", str(tmp_path / "a.gpx"), "--tiles", str(tmp_path / "tiles")]
    done = subprocess.run(
        [sys.executable, "-c", NO_NETWORK, *words],
        capture_output=True,
        text=True,
        cwd=ROOT,
        check=False,
    )
    assert done.returncode == 2
    assert "the elevation tile N45W030.hgt (or N45W030.hgt.zip) is missing" in done.stderr
    assert "network" not in done.stderr

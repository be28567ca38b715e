"""The shipped courses are what the island's script makes, so that anyone can change the island."""

import importlib.util
import sys
import zipfile
from pathlib import Path

import numpy as np
import pytest

COURSES = Path(__file__).parents[2] / "courses"


@pytest.mark.slow
def test_the_script_makes_the_shipped_files(tmp_path, monkeypatch):
    spec = importlib.util.spec_from_file_location("make_island", COURSES / "make_island.py")
    island = importlib.util.module_from_spec(spec)
    monkeypatch.setitem(sys.modules, spec.name, island)
    spec.loader.exec_module(island)
    island.main(tmp_path)
    for path in sorted(tmp_path.glob("*/track.gpx")):
        assert path.read_bytes() == (COURSES / path.parent.name / "track.gpx").read_bytes()
    posts = []
    for folder in (tmp_path, COURSES):
        with zipfile.ZipFile(folder / "tiles" / f"{island.TILE}.zip") as archive:
            posts.append(np.frombuffer(archive.read(island.TILE), dtype=">i2").astype(int))
    # Another linear algebra library may round a post to the next metre.
    assert np.abs(posts[0] - posts[1]).max() <= 1
    assert posts[1].max() > 500

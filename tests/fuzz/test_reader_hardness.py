"""Whatever stands in a file, its reader takes it or refuses it in words: nothing else comes out."""

from pathlib import Path

import pytest
import reader_seeds
import reader_targets
import spoiling
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

FOUND = Path(__file__).parent / "found"
NOTHING = [b"", b" \n", b"\x00", b"\xff\xfe", b"\xef\xbb\xbf", b"<", b"{", b"[", b'"', b"\x02"]
N_TRIES = {"gpx": 60, "hgt": 12, "geojson": 60, "toml": 120, "year": 20, "fit": 60}


@st.composite
def spoilt(draw, name):
    """A seed with a few things changed, as a faulty program or an unkind person would."""
    data = draw(st.sampled_from(reader_seeds.seeds(name)))
    for _ in range(draw(st.integers(1, 3))):
        data = spoiling.spoil(
            data,
            draw(st.integers(0, spoiling.N_WAYS - 1)),
            draw(st.integers(0, 1 << 24)),
            draw(st.integers(1, 200)),
            draw(st.integers(0, 1 << 24)),
        )
    return data


@pytest.mark.parametrize("name", reader_targets.TARGETS)
def test_spoilt_files(name):
    taken, refused = 0, 0

    @settings(
        max_examples=N_TRIES.get(name, 100),
        deadline=None,
        database=None,
        derandomize=True,
        suppress_health_check=list(HealthCheck),
    )
    @given(data=spoilt(name))
    def tried(data):
        nonlocal taken, refused
        told = reader_targets.answers(name, data)
        taken += not told
        refused += bool(told)

    tried()
    assert taken, "spoilt so much that nothing was ever read"
    assert refused


@pytest.mark.parametrize("name", reader_targets.TARGETS)
def test_seeds_are_read_and_nothing_is_refused(name):
    """Seeds that are refused would lead nowhere; emptiness is never taken."""
    assert [told for seed in reader_seeds.seeds(name) if (told := _answer(name, seed))] == []
    for data in NOTHING:
        assert reader_targets.answers(name, data), data


def _answer(name, seed):
    told = reader_targets.answers(name, seed)
    # A bare tile of a few bytes is a seed for its size, the opened remarks of a TOML file for
    # their keys: both are refused.
    is_known = name == "hgt" and "bytes" in told
    is_known |= name == "toml" and ("TOML" in told or "key" in told or "[[" in told)
    return "" if is_known else told


@pytest.mark.parametrize("path", sorted(FOUND.glob("*-*")), ids=lambda path: path.name)
def test_what_the_fuzzer_found_stays_mended(path):
    reader_targets.answers(path.name.partition("-")[0], path.read_bytes())

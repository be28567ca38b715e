"""Every set that goes together and fits the budget, each once: against a slow obvious twin."""

import itertools
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from simulator.setup import load_parts, misfits, part_cents
from simulator.spend.partsets import even_blocks, make_menu, set_blocks, survey_sets

CONFIGS = Path(__file__).parents[2] / "configs"
TAGS = ["a", "b", "c"]


def all_sets_slowly(catalogue, most_cents):
    """Names of every set, by trying every subset of the parts."""
    found = set()
    for size in range(len(catalogue.parts) + 1):
        for parts in itertools.combinations(catalogue.parts, size):
            cents = sum(part_cents(catalogue, part) for part in parts)
            if cents <= most_cents and not misfits(catalogue, parts):
                found.add((frozenset(part.name for part in parts), cents))
    return found


def all_sets(catalogue, most_cents, **options):
    menu = make_menu(catalogue)
    found = []
    for sets in set_blocks(menu, most_cents, **options):
        for choices, cents in zip(sets.choices.tolist(), sets.cents.tolist(), strict=True):
            names = frozenset(part.name for part in menu.parts_of(tuple(choices)))
            found.append((names, cents))
    return found


@st.composite
def catalogues(draw, slot, part, catalogue_of):
    tags = st.sets(st.sampled_from(TAGS), max_size=2)
    few = st.sets(st.sampled_from(TAGS), max_size=1)
    names = ["s0", "s1", "s2", "s3"][: draw(st.integers(1, 4))]
    slots = [
        slot(name, resale=float(draw(st.integers(0, 5))), provides=draw(tags)) for name in names
    ]
    parts = []
    for i in range(draw(st.integers(1, 7))):
        where = draw(st.lists(st.sampled_from(names), min_size=1, max_size=2, unique=True))
        parts.append(
            part(
                f"p{i}",
                *sorted(where),
                price=draw(st.integers(0, 2000)) / 100,
                labour=float(draw(st.integers(0, 3))),
                provides=draw(tags),
                needs=draw(few),
                excludes=draw(few),
            )
        )
    return catalogue_of(slots, parts, provides=draw(few))


@settings(max_examples=150, deadline=None)
@given(data=st.data(), most=st.integers(0, 4000), block=st.integers(1, 40))
def test_same_sets_as_the_slow_twin(data, most, block, slot, part, catalogue_of):
    catalogue = data.draw(catalogues(slot, part, catalogue_of))
    found = all_sets(catalogue, most, block=block)
    assert len(found) == len(set(found))
    assert set(found) == all_sets_slowly(catalogue, most)


def test_lively_catalogue(lively_catalogue):
    for most in (0, 13025, 100_000):
        found = all_sets(lively_catalogue, most)
        assert set(found) == all_sets_slowly(lively_catalogue, most)
        survey = survey_sets(make_menu(lively_catalogue), most, most=10**6)
        assert survey.n_sets == len(found)
        held = set().union(*(names for names, _ in found))
        assert {part.name for part in survey.unused} == {
            part.name for part in lively_catalogue.parts
        } - held


def test_more_than_64_tags(slot, part, catalogue_of):
    parts = [part(f"p{i}", "a", price=1.0, provides=[f"t{i}"]) for i in range(70)]
    parts += [part(f"q{i}", "b", price=1.0, needs=[f"t{i}"]) for i in range(70)]
    catalogue = catalogue_of([slot("a"), slot("b")], parts)
    found = {names for names, _ in all_sets(catalogue, 10**6)}
    pairs = {frozenset([f"p{i}", f"q{i}"]) for i in range(70)}
    assert found == pairs | {frozenset([f"p{i}"]) for i in range(70)} | {frozenset()}


def test_budget_holds_to_the_cent(slot, part, catalogue_of):
    # 0.1 + 0.2 > 0.3 in floating point; in cents it fits.
    catalogue = catalogue_of(
        [slot("a"), slot("b")], [part("x", "a", price=0.1), part("y", "b", price=0.2)]
    )
    assert (frozenset("xy"), 30) in all_sets(catalogue, 30)
    assert (frozenset("xy"), 30) not in all_sets(catalogue, 29)


def test_resale_can_make_a_set_cheaper_than_nothing(slot, part, catalogue_of):
    catalogue = catalogue_of(
        [slot("a"), slot("b", resale=50.0)],
        [part("dear", "a", price=30.0), part("swap", "b", price=20.0)],
    )
    assert set(all_sets(catalogue, 0)) == {
        (frozenset(), 0),
        (frozenset(["swap"]), -3000),
        (frozenset(["dear", "swap"]), 0),
    }


@pytest.mark.parametrize("size", [1, 7, 64, 10_000])
def test_even_blocks_keep_order(lively_catalogue, size):
    menu = make_menu(lively_catalogue)
    whole = np.concatenate([s.choices for s in set_blocks(menu, 10**6)])
    parts = list(even_blocks(set_blocks(menu, 10**6), size))
    assert [len(each) for each in parts[:-1]] == [size] * (len(parts) - 1)
    assert np.array_equal(np.concatenate([each.choices for each in parts]), whole)


def test_memory_stays_bounded(slot, part, catalogue_of):
    slots = [slot(f"s{i}") for i in range(8)]
    parts = [part(f"p{i}-{j}", f"s{i}", price=1.0) for i in range(8) for j in range(5)]
    menu = make_menu(catalogue_of(slots, parts))
    blocks = set_blocks(menu, 10**6, block=500)
    seen = 0
    for sets in itertools.islice(blocks, 2000):
        assert len(sets) <= 500
        seen += len(sets)
    assert seen > 100_000
    assert menu.n_raw == 6**8


def test_choices_of_parts_and_back(lively_catalogue):
    menu = make_menu(lively_catalogue)
    for sets in set_blocks(menu, 10**6):
        for choices in map(tuple, sets.choices.tolist()):
            assert menu.choices_of(menu.parts_of(choices)) == choices


def test_shipped_catalogue_keeps_what_every_mechanic_knows():
    """Told in the names of parts, not in the words of the file: what may stand together."""
    menu = make_menu(load_parts(CONFIGS / "parts.toml"))
    deep = {"Deep wheels 50 mm", "Deep wheels 65 mm"}
    wide = {*deep, "Light alloy wheels"}
    n_tubeless = n_bought = 0
    for sets in set_blocks(menu, 180_000):
        for choices in sets.choices[::7].tolist():
            names = {part.name for part in menu.parts_of(tuple(choices))}
            n_bought += bool(names)
            # The frame has rim brakes.
            assert "Disc-brake wheels" not in names
            # Tubeless only: a rim for it, sealant, and no tube of any kind.
            if "Tubeless race tyres 28 mm" in names:
                n_tubeless += 1
                assert names & deep
                assert "Sealant and valves" in names
            else:
                assert "Sealant and valves" not in names
            if "Race tyres 28 mm" in names:
                assert names & wide
            # One thing to a place, also where a set sold together fills two.
            assert len(names & {*wide, "Wheels and tyres together"}) <= 1
            tyres = {name for name in names if "tyres" in name}
            assert len(tyres) <= 1
            assert len(names & {"Bar and stem in one", "Narrow bar"}) <= 1
            assert not {"Bar and stem in one", "Lights and bag off"} <= names
    assert n_tubeless > 100
    assert n_bought > 5000

"""The best set of random small catalogues, each set ridden: against brute force, ridden alone."""

import itertools

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from simulator.ride import simulate
from simulator.setup import RideSetup, Uncertain, apply_parts, misfits, part_cents
from simulator.spend import plan_spending

NANOSECOND = 1e-9
TAGS = ["wide", "narrow"]


@st.composite
def catalogues(draw, slot, part, catalogue_of):
    """One to three slots, one to five parts that help, hinder, bundle, need and exclude."""
    tags, few = (
        st.sets(st.sampled_from(TAGS), max_size=2),
        st.sets(st.sampled_from(TAGS), max_size=1),
    )
    names = ["s0", "s1", "s2"][: draw(st.integers(1, 3))]
    slots = [
        slot(name, resale=float(draw(st.integers(0, 40))), provides=draw(tags)) for name in names
    ]
    parts = [
        part(
            f"p{i}",
            *sorted(draw(st.lists(st.sampled_from(names), min_size=1, max_size=2, unique=True))),
            price=float(draw(st.integers(0, 300))),
            labour=float(draw(st.sampled_from([0, 15]))),
            cda=draw(st.integers(-60, 20)) / 1e4,
            mass_kg=Uncertain(draw(st.integers(-8, 4)) / 10),
            crr=Uncertain(draw(st.integers(-4, 2)) / 1e4),
            provides=draw(tags),
            needs=draw(few),
            excludes=draw(few),
        )
        for i in range(draw(st.integers(1, 5)))
    ]
    return catalogue_of(slots, parts)


@settings(max_examples=15, deadline=None)
@given(data=st.data(), budget=st.integers(0, 600), chunk=st.integers(1, 40))
def test_best_set_is_the_best_of_all_ridden_alone(
    data, budget, chunk, slot, part, catalogue_of, short_races, doubtful_build
):
    catalogue = data.draw(catalogues(slot, part, catalogue_of))
    found = {}
    for size in range(len(catalogue.parts) + 1):
        for parts in itertools.combinations(catalogue.parts, size):
            cents = sum(part_cents(catalogue, part) for part in parts)
            if cents > 100 * budget or misfits(catalogue, parts):
                continue
            build = apply_parts(doubtful_build, catalogue, parts)
            times_s = [
                simulate(
                    course=race.course,
                    setup=RideSetup(rider=race.rider, build=build, weather=race.weather),
                    demand=race.demand,
                ).time_s
                for race in short_races
            ]
            names = frozenset(part.name for part in parts)
            found[names] = (cents, (2.0 * times_s[0] + times_s[1]) / 3.0)
    answer = plan_spending(
        build=doubtful_build, catalogue=catalogue, races=short_races, budgets=[budget], n_draws=0,
        chunk=chunk,
    )  # fmt: skip
    best = answer.budgets[-1].best
    cents, time_s = found[frozenset(part.name for part in best.parts)]
    best_s = min(each_s for _, each_s in found.values())
    assert answer.n_sets == len(found)
    assert time_s == pytest.approx(best_s, abs=NANOSECOND)
    # Of all that are as fast, none is cheaper.
    assert cents == min(c for c, each_s in found.values() if each_s < best_s + NANOSECOND)

"""The best set for each budget: against an integer program, brute force and textbook knapsacks."""

import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import Bounds, LinearConstraint, milp

from simulator.setup import part_cents
from simulator.spend.optimum import DECIMALS, N_LEADERS, no_leaders, with_sets
from simulator.spend.partsets import SetBlock, make_menu, set_blocks

# Knapsacks with their published optima, from memory: textbook instances after [Martello1990] as
# collected in Burkardt's data set KNAPSACK_01. Each item is a class of its own: take it or not.
# The integer program below confirms each optimum.
# (capacity, weights, profits, best profit)
TEXTBOOK = {
    "p01": (165, [23, 31, 29, 44, 53, 38, 63, 85, 89, 82],
            [92, 57, 49, 68, 60, 43, 67, 84, 87, 72], 309),
    "p02": (26, [12, 7, 11, 8, 9], [24, 13, 23, 15, 16], 51),
    "p03": (190, [56, 59, 80, 64, 75, 17], [50, 50, 64, 46, 50, 5], 150),
    "p04": (50, [31, 10, 20, 19, 4, 3, 6], [70, 20, 39, 37, 7, 5, 10], 107),
    "p05": (104, [25, 35, 45, 5, 25, 3, 2, 2], [350, 400, 450, 20, 70, 8, 5, 5], 900),
    "p06": (170, [41, 50, 49, 59, 55, 57, 60], [442, 525, 511, 593, 546, 564, 617], 1735),
    "p07": (750, [70, 73, 77, 80, 82, 87, 90, 94, 98, 106, 110, 113, 115, 118, 120],
            [135, 139, 149, 150, 156, 163, 173, 184, 192, 201, 210, 214, 221, 229, 240], 1458),
}  # fmt: skip


def leaders_of(menu, gains, budgets_cents, *, block=8192):
    """Leaders where gains simply add up; `gains` by slot and option."""
    leaders = no_leaders(menu.n_slots, budgets_cents)
    for sets in set_blocks(menu, max(budgets_cents), block=block):
        total = sum(gains[slot][sets.choices[:, slot]] for slot in range(menu.n_slots))
        leaders = with_sets(leaders, sets, 1000.0 - total)
    return leaders


def best_by_program(costs, gains, budget):
    """Most gain with exactly one option a slot, by HiGHS."""
    cost, gain = np.concatenate(costs), np.concatenate(gains)
    one_a_slot = np.zeros((len(costs), len(cost)))
    at = 0
    for row, options in enumerate(costs):
        one_a_slot[row, at : at + len(options)] = 1.0
        at += len(options)
    found = milp(
        -gain,
        constraints=[
            LinearConstraint(one_a_slot, 1, 1),
            LinearConstraint(cost[None], -np.inf, budget),
        ],
        integrality=np.ones(len(cost)),
        bounds=Bounds(0, 1),
        options={"mip_rel_gap": 0.0},
    )
    assert found.status == 0
    return -found.fun


def priced(slot, part, catalogue_of, costs):
    """A catalogue whose slots have options at these prices, the first being what is there."""
    slots = [slot(f"s{i}") for i in range(len(costs))]
    parts = [
        part(f"p{i}-{j}", f"s{i}", price=float(price))
        for i, options in enumerate(costs)
        for j, price in enumerate(options[1:])
    ]
    return make_menu(catalogue_of(slots, parts))


@pytest.mark.parametrize("name", TEXTBOOK)
def test_textbook_knapsacks(name, slot, part, catalogue_of):
    capacity, weights, profits, best = TEXTBOOK[name]
    costs = [np.array([0, w]) for w in weights]
    gains = [np.array([0.0, p]) for p in profits]
    assert best_by_program(costs, gains, capacity) == pytest.approx(best)
    menu = priced(slot, part, catalogue_of, costs)
    leaders = leaders_of(menu, gains, [capacity * 100])
    assert 1000.0 - leaders.by_budget[0].scores_s[0] == pytest.approx(best)


# Printed problems with classes of more than two options, one to be taken from each: sums of money
# or of people shared among some takers. The integer program confirms each optimum.
# name: (budget, [cost of each option of each class], [its return], best return)
MULTIPLE_CHOICE = {
    # Exercise 14.18 of a chapter on dynamic programming with its printed solution: 1, 2, 0, 2 and
    # 4 millions return 25 millions. Seen in a course's pages (COP 4355, part 41); book not named.
    "five investments": (
        9,
        [[0, 1, 2, 3, 4, 5]] * 5,
        [[0, 2, 4, 6, 8, 10], [0, 3, 6, 7, 9, 11], [0, 1.5, 3, 5, 7, 8], [0, 1, 8, 9, 10, 12],
         [0, 0.5, 4, 6, 9, 10]],
        25,
    ),
    # The first example of [Trick1998]: 5 millions for the proposals of three plants. The table
    # is from memory; two of its sums were seen and are checked below.
    "three plants": (
        5,
        [[0, 1, 2], [0, 2, 3, 4], [0, 1]],
        [[0, 5, 6], [0, 8, 9, 12], [0, 4]],
        18,
    ),
    # Five medical teams for three countries, the example of [Hillier2001]; from memory.
    "medical teams": (
        5,
        [[0, 1, 2, 3, 4, 5]] * 3,
        [[0, 45, 70, 90, 105, 120], [0, 20, 45, 75, 110, 150], [0, 50, 70, 80, 100, 130]],
        170,
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", MULTIPLE_CHOICE)
def test_printed_multiple_choice_problems(name, slot, part, catalogue_of):
    budget, costs, returns, best = MULTIPLE_CHOICE[name]
    costs = [np.array(options) for options in costs]
    gains = [np.array(options, dtype=float) for options in returns]
    assert best_by_program(costs, gains, budget) == pytest.approx(best)
    menu = priced(slot, part, catalogue_of, costs)
    leaders = leaders_of(menu, gains, [budget * 100])
    assert 1000.0 - leaders.by_budget[0].scores_s[0] == pytest.approx(best)


def test_what_was_seen_of_the_printed_problems():
    _, _, returns, _ = MULTIPLE_CHOICE["five investments"]
    assert sum(options[i] for options, i in zip(returns, (1, 2, 0, 2, 4), strict=True)) == 25
    # "Proposals 3, 4, and 1 for the three plants cost $6 million", and 1, 1 and 2 "returns only
    # $4 million".
    _, costs, returns, _ = MULTIPLE_CHOICE["three plants"]
    assert costs[0][2] + costs[1][3] + costs[2][0] == 6
    assert returns[0][0] + returns[1][0] + returns[2][1] == 4


RANGE = 1000


def made_class(kind, n, rng):
    """Weights and profits of one class of [Pisinger1995, section 6], from memory.

    Weights are even in 1 to R. Uncorrelated: profits even in 1 to R. Weakly correlated: profits
    even in w - 10 to w + 10, at least 1. Subset sum: profits are the weights. Strongly
    correlated: n pairs (w', w' + 10) are sorted, and option j is the sum of the first j of them.
    """
    weights = rng.integers(1, RANGE + 1, n)
    if kind == "uncorrelated":
        return weights, rng.integers(1, RANGE + 1, n)
    if kind == "weakly correlated":
        return weights, np.maximum(weights + rng.integers(-10, 11, n), 1)
    if kind == "subset sum":
        return weights, weights
    weights = np.sort(weights)
    return np.cumsum(weights), np.cumsum(weights + 10)


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize(
    "kind", ["uncorrelated", "weakly correlated", "strongly correlated", "subset sum"]
)
def test_multiple_choice_against_an_integer_program(kind, seed, slot, part, catalogue_of):
    """Published kinds of instances at several budgets; HiGHS is the judge."""
    rng = np.random.default_rng([seed, len(kind)])
    classes = [made_class(kind, n, rng) for n in (3, 5, 4, 6, 3, 4)]
    # Here every slot may also stay as it is, for nothing.
    costs = [np.concatenate([[0], weights]) for weights, _ in classes]
    gains = [np.concatenate([[0.0], profits]) / 10.0 for _, profits in classes]
    menu = priced(slot, part, catalogue_of, costs)
    most = sum(int(cost.max()) for cost in costs)
    # Half way between the lightest and the heaviest set, as published, and tighter ones.
    budgets = [most // 9, most // 5, most // 3, most // 2]
    leaders = leaders_of(menu, gains, [100 * budget for budget in budgets])
    for budget, ranked in zip(budgets, leaders.by_budget, strict=True):
        best = best_by_program(costs, gains, budget)
        assert 1000.0 - ranked.scores_s[0] == pytest.approx(best, abs=1e-6)
        assert ranked.cents[0] <= 100 * budget


def brute_force(menu, times, budget):
    """Every way to take one option a slot, ranked by time, price and number of parts."""
    rows = []
    for choices in itertools.product(*(range(len(options)) for options in menu.parts)):
        cents = sum(int(menu.cents[slot][option]) for slot, option in enumerate(choices))
        if cents <= budget:
            n_bought = sum(option > 0 for option in choices)
            rows.append((times[choices], cents, n_bought, choices))
    return sorted(rows)


@settings(max_examples=80, deadline=None)
@given(
    sizes=st.lists(st.integers(2, 4), min_size=1, max_size=4),
    seed=st.integers(0, 10**6),
    few_values=st.booleans(),
    block=st.integers(1, 60),
)
def test_any_times_at_all_against_brute_force(
    sizes, seed, few_values, block, slot, part, catalogue_of
):
    """Times that do not add up, many ties, sets that do not finish; in blocks of any size."""
    rng = np.random.default_rng(seed)
    times = rng.integers(0, 4, sizes).astype(float) if few_values else rng.normal(0.0, 1.0, sizes)
    times = np.round(times, DECIMALS)
    times[rng.random(sizes) < 0.1] = np.inf
    times.flat[0] = 0.5
    costs = [np.concatenate([[0], rng.integers(0, 9, n - 1)]) for n in sizes]
    menu = priced(slot, part, catalogue_of, costs)
    budgets = [0, 300, 900, 10_000]
    leaders = no_leaders(menu.n_slots, budgets)
    for sets in set_blocks(menu, max(budgets), block=block):
        leaders = with_sets(leaders, sets, times[tuple(sets.choices.T)])
    for budget, ranked in zip(budgets, leaders.by_budget, strict=True):
        rows = [row for row in brute_force(menu, times, budget) if np.isfinite(row[0])]
        best = rows[0]
        assert (ranked.scores_s[0], ranked.cents[0]) == best[:2]
        assert (ranked.choices[0] > 0).sum() == best[2]
        # Behind it in order, and nothing that is no faster and dearer or fuller.
        kept = list(
            zip(ranked.scores_s, ranked.cents, (ranked.choices > 0).sum(axis=1), strict=True)
        )
        assert kept == sorted(kept)
        of_use = [
            row[:3]
            for row in rows
            if not any(o[0] == row[0] and o[1:3] != row[1:3] and o[1:3] < row[1:3] for o in rows)
        ]
        assert kept == of_use[:N_LEADERS]
    frontier = leaders.frontier
    rows = [row for row in brute_force(menu, times, max(budgets)) if np.isfinite(row[0])]
    expected, least = [], np.inf
    for cents in sorted({row[1] for row in rows}):
        time_s = min(row[0] for row in rows if row[1] == cents)
        if time_s < least:
            expected.append((cents, time_s))
            least = time_s
    assert list(zip(frontier.cents, frontier.scores_s, strict=True)) == expected


def test_nothing_finishes():
    leaders = no_leaders(1, [100])
    sets = SetBlock(choices=np.zeros((1, 1), dtype=np.int16), cents=np.zeros(1, dtype=np.int64))
    leaders = with_sets(leaders, sets, np.array([np.inf]))
    assert len(leaders.by_budget[0]) == len(leaders.frontier) == 0


def test_prices_count_labour_and_resale(slot, part, catalogue_of):
    catalogue = catalogue_of(
        [slot("a", resale=12.5), slot("b", resale=3.0)],
        [part("both", "a", "b", price=100.1, labour=20.0), part("one", "b", price=5.0)],
    )
    assert [part_cents(catalogue, each) for each in catalogue.parts] == [10460, 200]


def test_last_digits_of_a_number_sell_nothing():
    """A dear set that is ahead by rounding alone (1e-13 s was seen) loses to the cheap one."""
    sets = SetBlock(
        choices=np.array([[0, 0], [1, 1], [2, 0], [2, 1]], dtype=np.int16),
        cents=np.array([0, 150_000, 10_000, 900_000], dtype=np.int64),
    )
    times_s = np.array([310.0, 306.95769321 - 1.2e-13, 306.95769321, 306.95769321 - 1e-7])
    leaders = with_sets(no_leaders(2, [150_000, 900_000]), sets, times_s)
    assert leaders.by_budget[0].choices.tolist() == [[2, 0], [0, 0]]
    # A ten-millionth of a second is real, if useless: the best set is the best set.
    assert leaders.by_budget[1].choices[0].tolist() == [2, 1]
    assert leaders.frontier.cents.tolist() == [0, 10_000, 900_000]

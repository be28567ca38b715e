"""The whole answer, against riding every set one by one."""

import itertools
from dataclasses import replace

import pytest

from simulator.errors import CannotFinish
from simulator.ride import simulate
from simulator.setup import RideSetup, Uncertain, apply_parts, misfits, part_cents
from simulator.spend import plan_spending, question

NANOSECOND = 1e-9
BUDGETS = (150, 600, 1500)


@pytest.fixture(scope="module")
def target(doubtful_build):
    return replace(
        doubtful_build, name="better", mass_kg=Uncertain(6.9), cda_m2=Uncertain(0.29),
        crr=Uncertain(0.0034)
    )  # fmt: skip


@pytest.fixture(scope="module")
def answer(lively_catalogue, short_races, doubtful_build, target):
    return plan_spending(
        build=doubtful_build,
        catalogue=lively_catalogue,
        races=short_races,
        budgets=BUDGETS,
        target=target,
        n_draws=200,
        seed=5,
    )


@pytest.fixture(scope="module")
def one_by_one(lively_catalogue, short_races, doubtful_build):
    """{names: (cents, weighted time)} of every set, each ridden alone by the careful path."""
    found = {}
    for size in range(len(lively_catalogue.parts) + 1):
        for parts in itertools.combinations(lively_catalogue.parts, size):
            if misfits(lively_catalogue, parts):
                continue
            build = apply_parts(doubtful_build, lively_catalogue, parts)
            times_s = [
                simulate(
                    course=race.course,
                    setup=RideSetup(rider=race.rider, build=build, weather=race.weather),
                    demand=race.demand,
                ).time_s
                for race in short_races
            ]
            cents = sum(part_cents(lively_catalogue, part) for part in parts)
            names = frozenset(part.name for part in parts)
            found[names] = (cents, (2.0 * times_s[0] + times_s[1]) / 3.0)
    return found


def names(chosen):
    return frozenset(part.name for part in chosen.parts)


def test_best_of_each_budget_is_the_best_there_is(answer, one_by_one):
    base_s = one_by_one[frozenset()][1]
    assert [a.budget for a in answer.budgets] == [0.0, *BUDGETS]
    for budget in answer.budgets:
        fits = {n: t for n, (c, t) in one_by_one.items() if c <= 100 * budget.budget}
        best_s = min(fits.values())
        assert fits[names(budget.best)] == pytest.approx(best_s, abs=NANOSECOND)
        assert budget.best.gain_s == pytest.approx(base_s - best_s, abs=NANOSECOND)
        others = sorted(t for n, t in fits.items() if n != names(budget.best))
        assert budget.rival.lead_s == pytest.approx(others[0] - best_s, abs=NANOSECOND)
        assert 100 * budget.best.price == pytest.approx(one_by_one[names(budget.best)][0])


def test_greedy_would_be_wrong_here(answer, one_by_one):
    """Buying the best single part again and again ends elsewhere for some budgets."""
    n_wrong = 0
    for budget in range(0, 1500, 25):
        have = frozenset()
        while True:
            more = [
                (t, n)
                for n, (c, t) in one_by_one.items()
                if len(n - have) == 1 and have < n and c <= 100 * budget
            ]
            if not more or min(more)[0] >= one_by_one[have][1]:
                break
            have = min(more)[1]
        best = [chosen for chosen in answer.frontier if chosen.price <= budget][-1]
        behind_s = one_by_one[have][1] - one_by_one[names(best)][1]
        assert behind_s > -NANOSECOND
        n_wrong += behind_s > 0.01
    assert n_wrong > 5


def test_frontier_is_what_nothing_beats(answer, one_by_one):
    for chosen in answer.frontier:
        cents, time_s = one_by_one[names(chosen)]
        assert not any(
            c <= cents and t < time_s - NANOSECOND
            for n, (c, t) in one_by_one.items()
            if n != names(chosen)
        )
    assert [c.price for c in answer.frontier] == sorted({c.price for c in answer.frontier})
    gains = [c.gain_s for c in answer.frontier]
    assert gains == sorted(gains)


def test_best_sets_lie_on_the_frontier(answer):
    on_it = {names(chosen) for chosen in answer.frontier}
    assert all(names(budget.best) in on_it for budget in answer.budgets)


def test_share_of_the_gap(answer, one_by_one, short_races, target):
    times_s = [
        simulate(
            course=race.course,
            setup=RideSetup(rider=race.rider, build=target, weather=race.weather),
            demand=race.demand,
        ).time_s
        for race in short_races
    ]
    gap_s = one_by_one[frozenset()][1] - (2.0 * times_s[0] + times_s[1]) / 3.0
    assert answer.gap_s == pytest.approx(gap_s, abs=NANOSECOND)
    best = answer.budgets[-1].best
    assert best.share == pytest.approx(best.gain_s / gap_s)


def test_losses_are_what_the_set_loses_without_the_part(answer, one_by_one):
    for budget in answer.budgets:
        whole = one_by_one[names(budget.best)][1]
        for loss in budget.losses:
            without = names(budget.best) - {loss.part.name}
            if without in one_by_one:
                assert loss.loss_s == pytest.approx(one_by_one[without][1] - whole, abs=NANOSECOND)
            else:
                assert loss.loss_s is None
    dearest = answer.budgets[-1]
    assert any(loss.loss_s is None for loss in dearest.losses)  # wheels that the tyres need
    paid = [x for x in dearest.losses if x.loss_s is not None and x.part.price > 0.0]
    assert dearest.least.loss_s == min(x.loss_s for x in paid)
    assert not answer.budgets[0].least or answer.budgets[0].least.part.price == 0.0


def test_singles_and_next_buy(answer, one_by_one, lively_catalogue):
    base_s = one_by_one[frozenset()][1]
    assert {s.part.name for s in answer.singles} == {p.name for p in lively_catalogue.parts}
    for single in answer.singles:
        alone = frozenset([single.part.name])
        if alone in one_by_one:
            gain_s = base_s - one_by_one[alone][1]
            assert single.gain_s == pytest.approx(gain_s, abs=NANOSECOND)
            assert single.doubt.n_draws == 200
        else:
            assert single.gain_s is None
            assert single.part.name in single.reason
    for budget in answer.budgets[1:]:
        fits = [
            s.gain_s for s in answer.singles
            if s.gain_s is not None and 0.0 < s.price <= budget.budget
        ]  # fmt: skip
        assert budget.next_buy.gain_s == max(fits)
    assert answer.budgets[0].next_buy is None


def test_race_gains_make_the_mean(answer):
    for budget in answer.budgets:
        first, second = budget.best.race_gains_s
        assert budget.best.gain_s == pytest.approx((2.0 * first + second) / 3.0)
    assert sum(race.weight for race in answer.races) == pytest.approx(1.0)


def test_leaner_set_is_cheaper_and_not_told_apart(answer):
    for budget in answer.budgets:
        if budget.leaner is not None:
            assert budget.leaner.chosen.price < budget.best.price
            assert not budget.leaner.doubt.is_told_apart
            assert budget.leaner.lead_s >= 0.0


def test_same_seed_same_answer_in_any_chunk(
    answer, lively_catalogue, short_races, doubtful_build, target
):
    again = plan_spending(
        build=doubtful_build, catalogue=lively_catalogue, races=short_races, budgets=BUDGETS,
        target=target, n_draws=200, seed=5, chunk=7,
    )  # fmt: skip
    assert again.budgets == answer.budgets
    assert again.frontier == answer.frontier
    assert again.singles == answer.singles


def test_nothing_helps(slot, part, catalogue_of, short_races, doubtful_build):
    catalogue = catalogue_of([slot("a")], [part("brick", "a", price=10.0, mass_kg=Uncertain(3.0))])
    answer = plan_spending(
        build=doubtful_build, catalogue=catalogue, races=short_races, budgets=[100.0], n_draws=50
    )
    (only,) = answer.budgets
    assert only.best.parts == ()
    assert (only.best.gain_s, only.best.price, only.doubt, only.next_buy) == (0.0, 0.0, None, None)
    assert only.rival.lead_s > 0.0


def test_useless_parts_are_not_bought(slot, part, catalogue_of, short_races, doubtful_build):
    catalogue = catalogue_of(
        [slot("a"), slot("b"), slot("c")],
        [part("bar", "a", price=10.0, cda=-0.003), part("gold bolt", "b", price=1.0),
         part("lucky sock", "c")],
    )  # fmt: skip
    answer = plan_spending(
        build=doubtful_build, catalogue=catalogue, races=short_races, budgets=[50.0], n_draws=50
    )
    assert names(answer.budgets[-1].best) == {"bar"}
    assert names(answer.budgets[-1].rival.chosen) == set()


def test_surer_set_is_named_where_the_best_one_is_a_guess(
    slot, part, catalogue_of, short_races, doubtful_build
):
    """A part that is all advertisement must not hide one that is sure: nor does it sell."""
    catalogue = catalogue_of(
        [slot("a"), slot("b"), slot("c")],
        [
            part("sure bar", "a", price=10.0, cda=-0.003, cda_sd=0.0003),
            part("sure sock", "b", cda=-0.002, cda_sd=0.0002),
            part("magic", "c", cda=-0.002, cda_sd=0.02),
        ],
    )
    answer = plan_spending(
        build=doubtful_build, catalogue=catalogue, races=short_races, budgets=[50.0], n_draws=300
    )
    free, fifty = answer.budgets
    assert names(fifty.best) == {"sure bar", "sure sock", "magic"}
    assert not fifty.doubt.is_told_apart
    assert fifty.surer.doubt.is_told_apart
    assert names(fifty.surer.chosen) == {"sure bar", "sure sock"}
    assert fifty.surer.chosen.price == 10.0
    assert names(free.surer.chosen) == {"sure sock"}


def test_no_set_is_sure_where_all_is_a_guess(slot, part, catalogue_of, short_races, doubtful_build):
    catalogue = catalogue_of([slot("c")], [part("magic", "c", price=5.0, cda=-0.002, cda_sd=0.02)])
    (only,) = plan_spending(
        build=doubtful_build, catalogue=catalogue, races=short_races, budgets=[50.0], n_draws=100
    ).budgets
    assert not only.doubt.is_told_apart
    assert only.surer is None


def test_gusts_make_the_doubt_larger_and_nothing_else(
    slot, part, catalogue_of, short_races, doubtful_build
):
    """As in a comparison of two builds: a gust changes no ride but the doubt of the wind."""
    wheels = part("deep", "a", price=10.0, yaw=((0.0, 10.0, 20.0), (0.0, -0.004, -0.006)))
    catalogue = catalogue_of([slot("a")], [wheels])

    def doubt(gust_mps):
        races = [
            replace(race, weather=replace(race.weather, gust_mps=gust_mps)) for race in short_races
        ]
        (only,) = plan_spending(
            build=doubtful_build, catalogue=catalogue, races=races, budgets=[50.0], n_draws=400
        ).budgets
        return only.best.gain_s, only.doubt.high_s - only.doubt.low_s

    (calm_s, calm_width_s), (gusty_s, gusty_width_s) = doubt(None), doubt(24.0)
    assert gusty_s == calm_s
    assert gusty_width_s > 1.05 * calm_width_s


def test_next_buy_has_a_doubt_even_where_few_parts_are_drawn(
    monkeypatch, lively_catalogue, short_races, doubtful_build
):
    monkeypatch.setattr(question, "MOST_SINGLES_DRAWN", 1)
    answer = plan_spending(
        build=doubtful_build, catalogue=lively_catalogue, races=short_races, budgets=[85.0],
        n_draws=20,
    )  # fmt: skip
    assert [single.doubt is not None for single in answer.singles].count(True) == 1
    next_buy = answer.budgets[-1].next_buy
    assert next_buy.part != answer.singles[0].part
    assert next_buy.doubt.n_draws == 20


def test_build_that_stops_is_an_answer(lively_catalogue, short_races, doubtful_build):
    weak = replace(short_races[0], rider=replace(short_races[0].rider, power_w=Uncertain(1.0)))
    from simulator.pacing import constant_demand

    weak = replace(weak, demand=constant_demand(weak.course, weak.rider, power_w=0.5))
    with pytest.raises(CannotFinish, match="cannot pass"):
        plan_spending(
            build=doubtful_build, catalogue=lively_catalogue, races=[weak], budgets=[100.0]
        )


def test_too_many_sets_are_refused_before_riding(
    monkeypatch, lively_catalogue, short_races, doubtful_build
):
    monkeypatch.setattr(question, "MOST_SETS", 10)
    asked = r"More than 10 sets .* fit 10,000 crowns.* most parts first: wheels \(3\), tyres \(3\)"
    with pytest.raises(CannotFinish, match=asked):
        plan_spending(
            build=doubtful_build, catalogue=lively_catalogue, races=short_races, budgets=[10_000.0]
        )

"""Small facts of the spend room that mutants of its code got past before."""

import pytest

from simulator.errors import InputError
from simulator.setup import load_build, load_rider
from simulator.spend import RaceWish, plan_spending, read_races
from simulator.spend.chances import DrawnRides
from simulator.spend.partsets import make_menu
from simulator.spend.rerides import ThisMachine, make_tables


def test_no_part_leaves_a_rider_without_drag(slot, part, catalogue_of, short_races, doubtful_build):
    """All but a hundredth of a square metre gone without yaw is a slip, whatever stands at 10°."""
    slip = part("visor", "a", yaw=((0.0, 10.0, 20.0), (-0.3, -0.01, 0.0)))
    with pytest.raises(InputError, match="cda_m2") as told:
        plan_spending(
            build=doubtful_build,
            catalogue=catalogue_of([slot("a")], [slip]),
            races=short_races,
            budgets=(100,),
            n_draws=0,
        )
    assert "visor" in str(told.value)


def test_doubt_of_the_bike_itself_is_drawn(short_races, doubtful_build, lively_catalogue):
    """CdA 0.310 ± 0.005 of the bike without any part, and easy races, which every draw ends."""
    tables = make_tables(doubtful_build, make_menu(lively_catalogue))
    drawn = DrawnRides(tables, short_races, ThisMachine(short_races), n_draws=4000, seed=3)
    nothing = (0,) * drawn.tables.menu.n_slots
    areas_m2 = drawn._jobs(nothing)[0].values["build.cda_m2"]
    # Four thousand draws: a mean within 4/√4000 of a deviation, the deviation within 5 %.
    assert areas_m2.mean() == pytest.approx(0.310, abs=0.0004)
    assert areas_m2.std() == pytest.approx(0.005, rel=0.05)
    few = DrawnRides(tables, short_races, ThisMachine(short_races), n_draws=20, seed=3)
    assert few.gain(nothing, (1, *nothing[1:])).n_stopped == 0


def test_progress_grows_to_the_number_of_sets(
    slot, part, catalogue_of, short_races, doubtful_build
):
    """Three single parts for three places make eight sets."""
    names = ("a", "b", "c")
    parts = [part(f"p{name}", name, price=10.0, cda=-0.001) for name in names]
    told = []
    plan_spending(
        build=doubtful_build,
        catalogue=catalogue_of([slot(name) for name in names], parts),
        races=short_races,
        budgets=(30,),
        n_draws=0,
        progress=lambda what, done, of: told.append((what, done, of)),
    )
    ridden = [(done, of) for what, done, of in told if what == "Riding every set"]
    assert [done for done, _ in ridden] == sorted(done for done, _ in ridden)
    assert ridden[-1] == (8, 8)


def test_a_race_without_a_weight_counts_once(request):
    root = request.config.rootpath
    course = root / "courses" / "three-hills"
    wishes = (RaceWish(course=course), RaceWish(course=course, weight=1.0))
    rider = load_rider(root / "configs" / "rider.toml")
    build = load_build(root / "configs" / "plover.toml")
    assert {race.weight for race in read_races(wishes, rider=rider, build=build)} == {1.0}

"""Small facts of the field-test room that mutants of its code got past before."""

from dataclasses import replace

import numpy as np
import pytest

from simulator.fieldtest import VerdictFile, build_texts, infer_day
from simulator.fieldtest.infer import fit_problem
from simulator.fieldtest.outcome import difference_of
from simulator.fieldtest.roads import cut_road, even_road
from simulator.fieldtest.steady import steady_on
from simulator.fieldtest.verdict import judge
from simulator.files import check_toml
from simulator.setup import Uncertain, load_build

HALF_A_METRE = 0.5


def test_twice_the_gap_leaves_four_times_the_misfit(plain_setup):
    """Each explanation's misfit is a sum of squares of the gaps, whatever is left of them."""
    roads = [even_road("r", length_m=1000.0, grade=g) for g in (0.04, 0.08)]
    steadies = [steady_on(road, plain_setup.rider, plain_setup.weather) for road in roads]
    head = 'name = "made"\nfirst = "a"\nother = "b"\nscatter_pct = 0.6\n'

    def misfits(*gaps_s):
        text = head + "".join(
            f'[[climb]]\nname = "c{i}"\nlength_m = 1000\npower_w = 250\n'
            f"first_times_s = [{base_s - 0.5 * gap_s}]\nother_times_s = [{base_s + 0.5 * gap_s}]\n"
            for i, (base_s, gap_s) in enumerate(zip((165.0, 272.0), gaps_s, strict=True))
        )
        other = replace(plain_setup.build, name="other")
        written = check_toml(text, VerdictFile, file="v.toml")
        verdict = judge(written, plain_setup.build, other, steadies)
        return {e.kind: e.misfit for e in verdict.explanations}

    once, twice = misfits(1.0, 2.0), misfits(2.0, 4.0)
    assert once["one run"] > 0.2
    for kind in ("one run", "mass", "rolling"):
        # Two percent: what a size does to a time bends a little.
        assert twice[kind] == pytest.approx(4.0 * once[kind], rel=0.02)


def test_a_mark_beside_a_joint_of_the_road_makes_no_sliver(plain_setup):
    """Pieces of a few centimetres carry no information and cost steps."""
    road = even_road("r", length_m=1000.0, grade=0.03)  # joints every ten metres
    cut = cut_road(road, np.array([500.2, 999.9]))
    assert cut.course.lengths_m.min() >= HALF_A_METRE
    assert cut.places_m[cut.marks] == pytest.approx([500.2, 999.9])


def test_what_the_tyres_lose_the_air_has_not_taken(make_fit_problem, mixed_text):
    """Time tells the sum of both losses: an error in one difference is made good by the other."""
    fit = fit_problem(make_fit_problem(mixed_text))
    builds = {tested.name: tested for tested in fit.problem.day.builds}
    told = difference_of(fit, builds["Plover"], builds["Gannet"])
    assert -1.0 < told.correlation < -0.5
    # The same from the doubt of a sum, in units of each figure's own doubt.
    i, j = (fit.index("cda", "Gannet"), fit.index("cda", "Plover"))
    k, m = (fit.index("crr", "Gannet"), fit.index("crr", "Plover"))
    weights = np.zeros(len(fit.values))
    weights[[i, j]] = np.array([1.0, -1.0]) / told.cda_m2.sd
    weights[[k, m]] = np.array([1.0, -1.0]) / told.crr.sd
    variance = weights @ fit.covariance @ weights
    assert variance == pytest.approx(2.0 + 2.0 * told.correlation, rel=1e-6)


def test_where_a_wheel_stops_is_doubted_as_the_square_of_its_speed(plain_setup):
    """Way to a stop goes with v²: one percent of scatter in speed is two percent of it."""
    from simulator.fieldtest.legs import STOP_SD_M, Leg

    leg = Leg(
        name="to a stop", run=None, cut=None,
        powers_w=np.zeros(1), times_s=np.zeros(0), stop_m=400.0,
        start=Uncertain(12.0), timing_sd_s=0.05, run_up_mps=0.0,
    )  # fmt: skip
    # Far out the scatter rules, near by the tape does: independent, so squares add.
    assert np.sqrt(leg.covariance(0.01)[0, 0]) == pytest.approx(np.hypot(8.0, STOP_SD_M))
    assert np.sqrt(leg.covariance(0.0)[0, 0]) == pytest.approx(STOP_SD_M)


def test_a_build_s_file_comes_back_with_its_wheels(make_day, mixed_text, tmp_path):
    """What a test writes for `compare` is the bike that was tested, but for what it found."""
    outcome = infer_day(make_day(mixed_text))
    text = build_texts(outcome)["plover.toml"]
    path = tmp_path / "written.toml"
    path.write_text(text, encoding="utf-8")
    written, tested = load_build(path), outcome.builds[0].tested.build
    assert written.wheel_radius_m == pytest.approx(tested.wheel_radius_m, rel=1e-6)
    assert written.mass_kg == tested.mass_kg
    assert (written.chainrings, written.sprockets) == (tested.chainrings, tested.sprockets)


def test_a_climb_at_twice_the_speed_is_asked_about(make_day, mixed_text):
    """One of four climbs in 150 s instead of 240 s: drafted, or the watch was wrong."""
    first, rest = mixed_text.split("time_s = 240", 1)
    runs = infer_day(make_day(f"{first}time_s = 150{rest}")).runs
    fast = min((run for run in runs if run.kind == "climb"), key=lambda run: run.measured)
    assert fast.measured == 150.0
    assert any("faster than" in words for words in fast.oddities)

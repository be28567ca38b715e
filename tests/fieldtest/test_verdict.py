"""Verdicts: predictions, the size that each error would need, agreement of climbs, the next run."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from simulator.errors import CannotFinish, InputError, InputErrors
from simulator.fieldtest import VerdictFile, judge_file
from simulator.fieldtest.roads import even_road
from simulator.fieldtest.steady import answer_of, predicted_gap, steady_on
from simulator.fieldtest.verdict import belief_of, judge
from simulator.files import check_toml
from simulator.setup import Uncertain, load_build

EXAMPLE = Path(__file__).parents[2] / "configs" / "fieldtest" / "two-climbs.toml"
HEAD = 'name = "made"\nfirst = "a"\nother = "b"\nscatter_pct = 0.6\n'
HUNDREDTH = 0.01


@pytest.fixture
def make_steady(plain_setup):
    """``make_steady(grade)``: a kilometre ridden by the plain rider (80 kg in all)."""

    def make(grade):
        road = even_road("r", length_m=1000.0, grade=grade)
        return steady_on(road, plain_setup.rider, plain_setup.weather)

    return make


def climb(name, first, other):
    return (
        f'[[climb]]\nname = "{name}"\nlength_m = 1000\npower_w = 250\n'
        f"first_times_s = {first}\nother_times_s = {other}\n"
    )


@pytest.fixture
def judged(plain_setup, make_steady):
    """``judged([(grade, first times, other times)], other=...)`` -> `Verdict`."""

    def make(stretches, *, other_kg=0.0, head=HEAD):
        text = head + "".join(
            climb(f"c{i}", first, other) for i, (_, first, other) in enumerate(stretches)
        )
        other = replace(plain_setup.build, name="other", mass_kg=Uncertain(other_kg))
        written = check_toml(text, VerdictFile, file="v.toml")
        steadies = [make_steady(grade) for grade, _, _ in stretches]
        return judge(written, plain_setup.build, other, steadies)

    return make


def needs(verdict, kind):
    return [n.value for n in next(e for e in verdict.explanations if e.kind == kind).needs]


def believed(verdict, kind):
    return next(e for e in verdict.explanations if e.kind == kind)


@pytest.mark.parametrize(("grade", "time_s", "per_kg_s"), [(0.05, 189.3329, 1.7495),
                                                          (0.08, 272.4621, 3.0696)])  # fmt: skip
def test_times_and_what_a_kilogram_costs_are_those_of_closed_form_3(
    plain_setup, make_steady, grade, time_s, per_kg_s
):
    """Steady climb at 250 W (closed form 3); the air thins on the way up by half a percent."""
    steady = make_steady(grade)
    tenth_of_a_second, hundredth_of_a_second = 0.1, 0.01
    found = steady.times_s(plain_setup.build, 250.0)[0]
    assert found == pytest.approx(time_s, abs=tenth_of_a_second)
    heavier = replace(plain_setup.build, mass_kg=Uncertain(1.0))
    gap = predicted_gap(steady, plain_setup.build, heavier, 250.0, 250.0)
    assert gap.value == pytest.approx(per_kg_s, abs=hundredth_of_a_second)
    assert gap.sd == 0.0


def test_doubt_of_the_prediction_is_that_of_the_figures(plain_setup, make_steady):
    steady = make_steady(0.08)
    doubtful = replace(plain_setup.build, name="other", mass_kg=Uncertain(1.0, 0.2))
    gap = predicted_gap(steady, plain_setup.build, doubtful, 250.0, 250.0)
    assert gap.sd == pytest.approx(0.2 * 3.07, rel=0.15)  # 512 draws


@pytest.mark.parametrize(
    ("kind", "size"), [("mass", 1.0), ("air", 0.02), ("rolling", 0.001), ("power", 2.0),
                       ("wind", 1.0)]
)  # fmt: skip
def test_needed_size_undoes_what_a_size_does(plain_setup, make_steady, kind, size):
    answer = answer_of(make_steady(0.06), plain_setup.build, 250.0, kind)
    assert answer.change_s(0.0) == pytest.approx(0.0, abs=1e-9)
    assert answer.change_s(size) > 0.0
    assert answer.needed(answer.change_s(size)) == pytest.approx(size, rel=HUNDREDTH)
    assert answer.needed(-answer.change_s(size)) < 0.0
    assert answer.needed(1e6) == np.inf
    assert answer.needed(-1e6) == -np.inf


def test_needed_mass_is_that_of_the_closed_form(judged):
    """4.1 s on a kilometre at 8 % between equal builds: 4.1 / 3.0696 = 1.336 kg."""
    verdict = judged([(0.08, [270.0], [274.1])])
    assert needs(verdict, "mass")[0] == pytest.approx(4.1 / 3.0696, abs=0.02)
    (need,) = believed(verdict, "mass").needs
    # The scatter of two runs, 0.6 % each: nine in ten lie within 1.645 sqrt(2) 1.63 s.
    half_kg = 1.645 * np.sqrt(2.0) * 0.006 * 272.05 / 3.0696
    assert need.high - need.value == pytest.approx(half_kg, rel=0.05)


def test_expected_gap_is_called_so(judged):
    verdict = judged([(0.08, [272.5], [275.6])], other_kg=1.0)
    assert verdict.is_expected
    assert verdict.next_run is None
    assert abs(verdict.climbs[0].score) < 0.1


def test_repeated_runs_narrow_the_scatter(judged):
    one = judged([(0.08, [270.0], [274.0])]).climbs[0]
    four = judged([(0.08, [270.0] * 4, [274.0] * 4)]).climbs[0]
    assert four.observed.sd == pytest.approx(0.5 * one.observed.sd)
    assert four.chance < one.chance


def test_mass_on_both_climbs_agrees_on_its_size(judged):
    """Two kilograms that nobody noticed: both climbs ask for the same, other errors disagree."""
    gaps = {0.03: 2 * 0.8913, 0.10: 2 * 3.9073}  # closed form 3, per kilogram
    base = {0.03: 142.2368, 0.10: 331.3052}
    stretches = [(g, [base[g]] * 6, [base[g] + gaps[g]] * 6) for g in (0.03, 0.10)]
    verdict = judged(stretches, head=HEAD.replace("0.6", "0.3"))
    mass, air = believed(verdict, "mass"), believed(verdict, "air")
    assert needs(verdict, "mass") == pytest.approx([2.0, 2.0], abs=0.1)
    assert mass.agree_chance > 0.5
    assert mass.size == pytest.approx(2.0, abs=0.1)
    assert air.agree_chance < 0.05
    assert air.belief == "the climbs disagree"
    assert mass.belief == "not believable"  # five times the usual 0.4 kg


def test_gap_on_the_steep_climb_alone_contradicts_every_lasting_error(judged):
    """The puzzle: no gap on the gentle climb, ten seconds on the steep one, ridden once."""
    verdict = judged(
        [
            (0.04, [165.0, 165.4, 164.8, 165.2], [165.3, 165.0, 165.1, 165.2]),
            (0.09, [302.0], [312.0]),
        ]
    )
    gentle, steep = verdict.climbs
    assert gentle.is_expected
    assert not steep.is_expected
    for kind in ("mass", "rolling", "power"):
        low, high = needs(verdict, kind)
        assert high > 5.0 * abs(low)
        assert believed(verdict, kind).agree_chance < 0.05
    one = believed(verdict, "one run")
    assert one.needs[1].value == pytest.approx(10.0, abs=0.1)
    assert verdict.next_run.climb == "c1"
    expected = dict(verdict.next_run.expected)
    assert expected["one run"] == pytest.approx(0.0, abs=0.1)
    assert expected["mass"] > 1.0


def test_next_run_counts_pairs_by_both_kinds_of_error(judged):
    """(2 · 1.645 / d)² pairs put the midpoint 1.645 standard errors from both answers."""
    verdict = judged([(0.08, [270.0], [280.0])])
    run = verdict.next_run
    apart = run.apart_sd * np.sqrt(run.n_pairs)
    assert apart >= 2.0 * 1.645 - 0.01
    assert run.n_pairs == 1 or run.apart_sd * np.sqrt(run.n_pairs - 1) < 2.0 * 1.645


@pytest.mark.parametrize(
    ("size", "words"),
    [(0.0, "believable"), (-1.6, "believable"), (2.0, "a stretch"), (2.6, "not believable")],
)
def test_belief_goes_by_the_usual_size(size, words):
    assert belief_of(size) == words


def test_explanations_are_ranked_by_what_they_leave(judged):
    verdict = judged([(0.08, [270.0], [278.0])])
    misfits = [e.misfit for e in verdict.explanations]
    assert misfits == sorted(misfits)
    assert {e.kind for e in verdict.explanations} == {
        "mass", "air", "rolling", "power", "wind", "one run"
    }  # fmt: skip


def test_example_is_judged_from_times_alone():
    verdict = judge_file(EXAMPLE)
    assert (verdict.first.name, verdict.other.name) == ("Plover light", "Plover")
    assert [c.is_expected for c in verdict.climbs] == [True, False]
    assert verdict.next_run is not None
    assert load_build(EXAMPLE.parent / "plover-plain.toml").mass_kg.value == 8.6


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (("first_times_s = [299.1]", "first_times_s = []"), "entries"),
        (("first_times_s = [299.1]", "first_times_s = [-3]"), "found -3"),
        (('name = "Steep Lane"', 'name = "Long Drag"'), "two stretches of one name"),
        (("scatter_pct", "scater_pct"), "did you mean `scatter_pct`?"),
        (("plover-light.toml", "plover-lihgt.toml"), "there is no such file"),
    ],
)
def test_wrong_files_are_told(tmp_path, change, words):
    for path in EXAMPLE.parent.glob("plover-*.toml"):
        (tmp_path / path.name).write_text(path.read_text(encoding="utf-8"), encoding="utf-8")
    text = EXAMPLE.read_text(encoding="utf-8").replace(*change)
    text = text.replace('rider = "../rider.toml"\n', "").replace(
        'weather = "../weather.toml"\n', ""
    )
    path = tmp_path / "v.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises((InputError, InputErrors)) as caught:
        judge_file(path)
    assert words in str(caught.value)


def test_build_that_halts_is_told(plain_setup, make_steady):
    with pytest.raises(CannotFinish, match="comes to a halt at 5 W"):
        make_steady(0.25).times_s(plain_setup.build, 5.0)

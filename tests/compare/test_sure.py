"""How sure: draws, intervals and shares of doubt against closed forms and published functions."""

from dataclasses import replace
from math import pi

import numpy as np
import pytest
from scipy import stats

from simulator.compare import explain
from simulator.compare.sure import quantile_error, variance_shares
from simulator.ride import draw_values, paired_draws, simulate_many
from simulator.setup import RideSetup, Uncertain, default_weather

THREE_STANDARD_ERRORS = 3.0


@pytest.fixture(scope="module")
def explained(hill_course, setups):
    return explain(course=hill_course, first=setups[0], other=setups[1], n_draws=2000, seed=7)


def test_same_seed_same_doubt_and_another_seed_within_its_error(hill_course, setups, explained):
    again = explain(course=hill_course, first=setups[0], other=setups[1], n_draws=2000, seed=7)
    assert (again.doubt.gaps_s == explained.doubt.gaps_s).all()
    fresh = explain(course=hill_course, first=setups[0], other=setups[1], n_draws=2000, seed=8)
    assert (fresh.doubt.gaps_s != explained.doubt.gaps_s).any()
    allowed_s = THREE_STANDARD_ERRORS * np.hypot(
        fresh.doubt.interval_error_s, explained.doubt.interval_error_s
    )
    assert abs(fresh.doubt.low_s - explained.doubt.low_s) < allowed_s
    assert abs(fresh.doubt.high_s - explained.doubt.high_s) < allowed_s


def test_spread_is_what_linear_propagation_gives(hill_course, setups, explained):
    # GUM (JCGM 100:2008) eq. 10: variance = sum of (derivative x standard uncertainty)², with
    # derivatives by central differences of whole rides. Doubts here are small, so both agree to
    # a few percent.
    drawn = paired_draws(setups, n_draws=2, seed=1)
    variance = 0.0
    shared = [n for n in drawn.labels if n.split(".")[0] in {"rider", "weather"}]
    inputs = [(n, (0, 1)) for n in shared]
    inputs += [
        (f"build.{n.split(': ')[1]}", (0,) if n.startswith("Gannet") else (1,))
        for n in drawn.labels
        if n not in shared
    ]
    for name, whose in inputs:
        draws = []
        for i, setup in enumerate(setups):
            part, field = name.split(".")
            quantity = getattr(getattr(setup, part), field)
            step = 0.3 * quantity.sd if i in whose else 0.0
            draws.append({name: np.array([quantity.value - step, quantity.value + step])})
        times_s = simulate_many(course=hill_course, setups=setups, draws=draws)[:, :, 0]
        gaps_s = times_s[1] - times_s[0]
        variance += ((gaps_s[1] - gaps_s[0]) / 0.6) ** 2
    assert explained.doubt.sd_s == pytest.approx(np.sqrt(variance), rel=0.06)


def test_chance_and_interval_follow_from_the_draws(explained):
    doubt = explained.doubt
    assert doubt.chance_first_faster == (doubt.gaps_s > 0.0).mean()
    inside = (doubt.gaps_s >= doubt.low_s) & (doubt.gaps_s <= doubt.high_s)
    assert inside.mean() == pytest.approx(0.9, abs=0.002)
    assert doubt.n_stopped == 0
    assert 0.9 < sum(s.share for s in doubt.shares) < 1.02


def test_exact_inputs_have_no_doubt(hill_course, setups):
    exact = {
        "mass_kg": Uncertain(7.0),
        "cda_m2": Uncertain(0.3),
        "crr": Uncertain(0.004),
        "drivetrain_efficiency": Uncertain(0.97),
    }
    weather = replace(
        default_weather(),
        **{
            name: Uncertain(getattr(default_weather(), name).value)
            for name in (
                "temperature_degc",
                "pressure_hpa",
                "humidity_pct",
                "wind_mps",
                "wind_from_deg",
            )
        },
    )
    rider = setups[0].rider
    pair = [
        RideSetup(rider=rider, build=replace(s.build, **exact), weather=weather) for s in setups
    ]
    if paired_draws(pair, n_draws=2, seed=1).labels:
        pytest.fail("something is still uncertain")
    assert explain(course=hill_course, first=pair[0], other=pair[1]).doubt is None


def test_what_is_shared_is_drawn_once(setups):
    drawn = paired_draws(setups, n_draws=50, seed=3)
    one, two = drawn.per_setup
    assert (one["weather.wind_mps"] == two["weather.wind_mps"]).all()
    assert (one["build.crr"] != two["build.crr"]).all()
    assert len(set(drawn.labels)) == len(drawn.labels) == drawn.scores.shape[1]


@pytest.mark.parametrize(
    ("name", "mean", "sd"),
    [
        ("build.crr", 0.004, 0.003),
        ("build.mass_kg", 8.0, 0.1),
        ("weather.wind_mps", 2.0, 2.0),
        ("build.drivetrain_efficiency", 0.97, 0.02),
    ],
)
def test_draws_keep_mean_and_spread_and_stay_within_physics(name, mean, sd):
    scores = np.random.default_rng(5).standard_normal(200_000)
    values = draw_values(name, Uncertain(mean, sd), scores)
    assert (values > 0.0).all()
    if name.endswith("efficiency"):
        assert (values < 1.0).all()
    assert values.mean() == pytest.approx(mean, abs=4.0 * sd / np.sqrt(len(values)))
    assert values.std() == pytest.approx(sd, rel=0.05)


def test_small_doubt_is_a_bell_curve():
    scores = np.random.default_rng(5).standard_normal(20_000)
    values = draw_values("build.mass_kg", Uncertain(8.0, 0.02), scores)
    assert stats.kstest((values - 8.0) / 0.02, "norm").pvalue > 0.01


def test_humidity_stays_between_none_and_all():
    scores = np.random.default_rng(5).standard_normal(20_000)
    values = draw_values("weather.humidity_pct", Uncertain(90.0, 15.0), scores)
    assert values.min() > 0.0
    assert values.max() < 100.0


def test_variance_shares_of_the_ishigami_function():
    # Ishigami and Homma 1990, a = 7, b = 0.1, uniform on -pi..pi. First-order indices
    # 0.3139, 0.4424, 0 (Saltelli et al. 2008, Global Sensitivity Analysis, section 4.6);
    # closed form: V = a²/8 + b pi⁴/5 + b² pi⁸/18 + 1/2, V1 = (1 + b pi⁴/5)²/2, V2 = a²/8.
    rng = np.random.default_rng(11)
    scores = rng.standard_normal((60_000, 3))
    x = (2.0 * stats.norm.cdf(scores) - 1.0) * pi
    values = np.sin(x[:, 0]) + 7.0 * np.sin(x[:, 1]) ** 2 + 0.1 * x[:, 2] ** 4 * np.sin(x[:, 0])
    variance = 49 / 8 + 0.1 * pi**4 / 5 + 0.01 * pi**8 / 18 + 0.5
    expected = [0.5 * (1 + 0.1 * pi**4 / 5) ** 2 / variance, 49 / 8 / variance, 0.0]
    assert expected == pytest.approx([0.3139, 0.4424, 0.0], abs=5e-4)
    # sin² over two periods needs a high degree; ride times are nearly straight and do not.
    assert variance_shares(scores, values, degree=10) == pytest.approx(expected, abs=0.02)


def test_variance_shares_of_a_linear_sum_are_exact():
    rng = np.random.default_rng(2)
    scores = rng.standard_normal((4000, 4))
    weights = np.array([3.0, 2.0, 1.0, 0.0])
    shares = variance_shares(scores, scores @ weights)
    assert shares == pytest.approx(weights**2 / 14.0, abs=0.05)


def test_shares_of_a_ride_agree_with_pick_and_freeze(hill_course, setups, explained):
    # First-order index by the estimator of Saltelli et al. 2010 (Comput. Phys. Commun. 181:259,
    # Table 2 b): two independent sets of scores, one input taken from the second.
    n = 4000
    one = paired_draws(setups, n_draws=n, seed=101)
    two = paired_draws(setups, n_draws=n, seed=202)

    def gaps_s(per_setup):
        times_s = simulate_many(course=hill_course, setups=setups, draws=per_setup)[:, :, 0]
        return times_s[1] - times_s[0]

    gaps_one, gaps_two = gaps_s(one.per_setup), gaps_s(two.per_setup)
    variance = np.concatenate([gaps_one, gaps_two]).var()
    mean_s = gaps_two.mean()  # without it the estimator drowns in the noise of the mean gap
    told = {s.name: s.share for s in explained.doubt.shares}
    for label, i_setup in (("Plover: crr", 1), ("Plover: cda_m2", 1), ("Gannet: cda_m2", 0)):
        name = f"build.{label.split(': ')[1]}"
        mixed = [dict(d) for d in one.per_setup]
        mixed[i_setup][name] = two.per_setup[i_setup][name]
        share = np.mean((gaps_two - mean_s) * (gaps_s(mixed) - gaps_one)) / variance
        assert told[label] == pytest.approx(share, abs=0.06)


def test_quantile_error_is_that_of_repeated_sampling():
    # 400 samples of 1000 normal values: the spread of their 5 % points is what is stated.
    rng = np.random.default_rng(9)
    samples = rng.standard_normal((400, 1000))
    seen = np.quantile(samples, 0.05, axis=1).std()
    stated = np.mean([quantile_error(sample) for sample in samples])
    assert stated == pytest.approx(seen, rel=0.2)


def test_few_draws_tell_less_and_break_nothing(hill_course, setups):
    few = explain(course=hill_course, first=setups[0], other=setups[1], n_draws=50)
    assert np.isfinite(few.doubt.sd_s)
    rng = np.random.default_rng(4)
    scores = rng.standard_normal((80, 4))
    shares = variance_shares(scores, scores @ np.array([3.0, 2.0, 1.0, 0.0]))
    assert shares == pytest.approx(np.array([9, 4, 1, 0]) / 14, abs=0.35)
    assert np.isnan(variance_shares(scores[:8], scores[:8, 0])).all()


def test_an_exact_build_is_drawn_beside_an_uncertain_one(setups):
    exact = replace(
        setups[0].build,
        mass_kg=Uncertain(7.0),
        cda_m2=Uncertain(0.3),
        crr=Uncertain(0.004),
        drivetrain_efficiency=Uncertain(0.97),
    )
    rider = replace(
        setups[0].rider,
        mass_kg=Uncertain(75.0),
        kit_kg=Uncertain(3.0),
        power_w=Uncertain(230.0),
    )
    weather = default_weather()
    drawn = paired_draws(
        [
            RideSetup(rider=rider, build=exact, weather=weather),
            RideSetup(rider=rider, build=setups[1].build, weather=weather),
        ],
        n_draws=10,
        seed=1,
    )
    sizes = {len(values) for draws in drawn.per_setup for values in draws.values()}
    assert sizes == {10}
    assert all(label.startswith("Plover") for label in drawn.labels)

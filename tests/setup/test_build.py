"""A build's file becomes a `Build`; each field has one cause; builds mix by cause."""

import dataclasses
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from simulator.errors import InputError
from simulator.files import check_toml
from simulator.setup import (
    CAUSE_OF_FIELD,
    CAUSES,
    LABEL_FIELDS,
    Build,
    BuildFile,
    Uncertain,
    differing_causes,
    fields_of_cause,
    load_build,
    mix_builds,
)
from simulator.setup.build_file import along_wind_factors

MINIMAL = 'name = "Bare"\nmass_kg = 8\ncda_m2 = 0.31\ncrr = 0.004\n'
FIELDS = {field.name for field in dataclasses.fields(Build)}


@pytest.fixture
def load(tmp_path):
    def load_text(text):
        path = tmp_path / "build.toml"
        path.write_text(text, encoding="utf-8")
        return load_build(path)

    return load_text


@pytest.fixture
def two_builds(load):
    first = load(MINIMAL)
    other = dataclasses.replace(
        first,
        name="Other",
        mass_kg=Uncertain(7.0, 0.1),
        cda_m2=Uncertain(0.30),
        yaw_degs=(0.0, 10.0),
        cda_factors=(1.0, 0.9),
        wheel_drag_area_m2=Uncertain(0.003),
        crr=Uncertain(0.003),
        wheel_inertia_kgm2=Uncertain(0.1),
        wheel_radius_m=0.34,
        bearing_factor=Uncertain(0.5),
        drivetrain_efficiency=Uncertain(0.98),
        chainrings=(36, 52),
        sprockets=(10, 30),
        grip_dry=Uncertain(0.9),
        grip_wet=Uncertain(0.6),
        price=10.0,
        source="other",
        caution="bold",
    )
    return first, other


def test_every_field_has_one_cause_or_is_a_label():
    told = [*CAUSE_OF_FIELD, *LABEL_FIELDS]
    assert len(told) == len(set(told))
    assert set(told) == FIELDS
    of_causes = [name for cause in CAUSES for name in fields_of_cause(cause)]
    assert sorted(of_causes) == sorted(CAUSE_OF_FIELD)


def test_unknown_cause_is_a_fault_of_ours(two_builds):
    with pytest.raises(KeyError):
        fields_of_cause("weight")
    with pytest.raises(KeyError):
        mix_builds(*two_builds, frozenset({"weight"}))


def test_mixing_nothing_and_everything(two_builds):
    first, other = two_builds
    assert mix_builds(first, other, frozenset()) == first
    everything = mix_builds(first, other, frozenset(CAUSES))
    assert everything == dataclasses.replace(
        other, name=first.name, price=first.price, source=first.source
    )


@given(causes=st.frozensets(st.sampled_from(CAUSES)))
def test_each_field_of_a_mix_comes_from_the_right_build(causes):
    # Fields need no physical meaning here: text tells where each came from.
    first = Build(**{name: f"first {name}" for name in FIELDS})
    other = Build(**{name: f"other {name}" for name in FIELDS})
    mixed = mix_builds(first, other, causes)
    for name in FIELDS:
        origin = "other" if CAUSE_OF_FIELD.get(name) in causes else "first"
        assert getattr(mixed, name) == f"{origin} {name}"
    assert set(differing_causes(first, mixed)) == causes


def test_causes_that_differ(two_builds):
    first, other = two_builds
    assert differing_causes(first, first) == ()
    assert differing_causes(first, other) == CAUSES
    only_mass = dataclasses.replace(first, mass_kg=Uncertain(7.9), name="x", price=3.0)
    assert differing_causes(first, only_mass) == ("mass",)


def test_minimal_file_takes_the_stated_defaults(load):
    build = load(MINIMAL)
    assert build.mass_kg == Uncertain(8.0, 0.0)
    # [Martin1998], from memory: 0.0044 m², 0.14 kg m², efficiency 0.976.
    assert build.wheel_drag_area_m2 == Uncertain(0.0044)
    assert build.wheel_inertia_kgm2 == Uncertain(0.14)
    assert build.drivetrain_efficiency == Uncertain(0.976)
    assert build.price is None
    assert build.yaw_degs == (0.0,)
    assert build.cda_factors == (1.0,)
    assert build.source.startswith("file build.toml; defaults for wheel_drag_area_m2, ")
    assert "crr" not in build.source


def test_what_is_written_is_taken(load):
    build = load(
        MINIMAL.replace("8\n", "{ value = 8.5, sd = 0.2 }\n")
        + "wheel_circumference_m = 2.1\nchainrings = [50, 34]\nsprockets = [30, 11]\nprice = 100\n"
        + 'source = "own scales"\n'
    )
    assert build.mass_kg == Uncertain(8.5, 0.2)
    assert build.wheel_radius_m == pytest.approx(2.1 / (2 * math.pi), rel=1e-15)
    assert build.chainrings == (34, 50)
    assert build.sprockets == (11, 30)
    assert build.price == 100.0
    assert build.source.startswith("own scales; defaults for ")


def test_yaw_conventions_give_the_same_force_along_the_road():
    # One measured force along the road at 30° yaw, told in the three ways that tables use:
    # 1/2 rho A V² cos(yaw)  [DESIGN], 1/2 rho A V²  [axial coefficient of a tunnel],
    # 1/2 rho A (V cos(yaw))²  [Martin1998]. cos 30° = 0.8660254.
    cos30 = 0.8660254037844386
    for convention, written in (
        ("along_wind", 0.9),
        ("tunnel_axial", 0.9 * cos30),
        ("road_axial", 0.9 / cos30),
    ):
        factors = along_wind_factors((0.0, 30.0), (1.0, written), convention)
        assert factors[0] == 1.0
        assert factors[1] == pytest.approx(0.9, rel=1e-14)


def test_yaw_table_of_a_file(load):
    build = load(
        MINIMAL
        + "[yaw]\nangles_deg = [0, 10, 20]\nfactors = [1, 0.97, 0.95]\nconvention = 'tunnel_axial'"
    )
    assert build.yaw_degs == (0.0, 10.0, 20.0)
    cos10, cos20 = 0.984807753012208, 0.939692620785908  # table of cosines
    assert build.cda_factors == pytest.approx((1.0, 0.97 / cos10, 0.95 / cos20), rel=1e-12)


@pytest.mark.parametrize(
    ("table", "words"),
    [
        ("angles_deg = [0, 5]\nfactors = [1]", "line 7, key `yaw.factors`: found 1 factors for 2"),
        ("angles_deg = [5]\nfactors = [1]", "the first angle is not 0"),
        ("angles_deg = []\nfactors = []", "the first angle is not 0"),
        ("angles_deg = [0]\nfactors = [0.9]", "factor at angle 0 is 0.9; expected 1"),
        ("angles_deg = [0, 9, 9]\nfactors = [1, 1, 1]", "do not grow"),
        ("angles_deg = [0, 90]\nfactors = [1, 1]", "found 90; expected a number from 0 to 60"),
        ("angles_deg = [0]\nfactors = [1]\nconvention = 'tunel_axial'", "did you mean"),
        ("angles_deg = [0]", "key `yaw.factors`: the key is missing"),
    ],
)
def test_wrong_yaw_tables(load, table, words):
    with pytest.raises(InputError) as caught:
        load(MINIMAL + "[yaw]\n" + table)
    assert words in str(caught.value)


@pytest.mark.parametrize(
    ("key", "good", "bad"),
    [
        ("mass_kg", [0.1, 60], [0, -8, 60.1]),
        ("cda_m2", [0.1, 1.0], [0.09, 1.01, -0.3]),
        ("crr", [0.001, 0.03], [0.0, 0.0009, 0.031, 4.5]),
        ("wheel_drag_area_m2", [0.0, 0.05], [-0.001, 0.06]),
        ("wheel_inertia_kgm2", [0.0, 1.0], [-0.1, 1.1]),
        ("wheel_circumference_m", [1.0, 2.5], [0.9, 2110, 211.0]),
        ("bearing_factor", [0.0, 10.0], [-1, 11]),
        ("drivetrain_efficiency", [0.8, 1.0], [0.79, 1.01, 97.6]),
        ("chainrings", [[16], [34, 50, 75]], [[15], [76], [], [30, 40, 50, 53]]),
        ("sprockets", [[8], [60]], [[7], [61], [], list(range(11, 26))]),
        ("grip_dry", [0.1, 1.3], [0.09, 1.31]),
        ("grip_wet", [0.05, 1.0], [0.04, 1.01]),
        ("price", [0.0, 1e6], [-1, 1e7]),
    ],
)
def test_limits(key, good, bad):
    base = {"name": '"x"', "mass_kg": 8, "cda_m2": 0.3, "crr": 0.004}

    def check(value):
        keys = {**base, key: value}
        text = "\n".join(f"{name} = {written}" for name, written in keys.items())
        return check_toml(text, BuildFile, file="x.toml")

    for value in good:
        assert getattr(check(value), key) is not None
    for value in bad:
        with pytest.raises(InputError, match=f"key `{key}"):
            check(value)


@pytest.mark.parametrize("key", ["name", "mass_kg", "cda_m2", "crr"])
def test_what_must_be_there(load, key):
    lines = [line for line in MINIMAL.splitlines() if not line.startswith(key)]
    with pytest.raises(InputError, match=rf"build\.toml, key `{key}`: the key is missing"):
        load("\n".join(lines))


def test_name_must_say_something(load):
    with pytest.raises(InputError, match=r"key `name`: found an empty text; expected at least 1"):
        load(MINIMAL.replace('"Bare"', '""'))

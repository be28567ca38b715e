"""Parts on a build: sums, what goes together, what it costs."""

import math
from pathlib import Path

import numpy as np
import pytest

from simulator.setup import (
    Uncertain,
    apply_parts,
    load_build,
    load_parts,
    misfits,
    part_cents,
)

CONFIGS = Path(__file__).parents[2] / "configs"


@pytest.fixture(scope="module")
def plover():
    return load_build(CONFIGS / "plover.toml")


@pytest.fixture(scope="module")
def catalogue():
    return load_parts(CONFIGS / "parts.toml")


def parts(catalogue, *names):
    return [catalogue.part(name) for name in names]


def test_no_parts_leave_the_build(plover, catalogue):
    assert apply_parts(plover, catalogue, []) == plover


def test_masses_are_changes_against_what_comes_off(plover, catalogue):
    build = apply_parts(plover, catalogue, parts(catalogue, "Latex tubes", "Supple tyres 25 mm"))
    # 8.600 kg, tubes 150 for 210 g, tyres 430 for 540 g.
    assert build.mass_kg.value == pytest.approx(8.600 - 0.060 - 0.110)
    assert build.mass_kg.sd == pytest.approx(math.sqrt(50**2 + 2 * 5**2 + 2 * 10**2) / 1000.0)


def test_own_rolling_resistance_replaces_and_changes_add(plover, catalogue):
    build = apply_parts(
        plover,
        catalogue,
        parts(catalogue, "Supple tyres 25 mm", "Latex tubes", "Pressure for the road"),
    )
    assert build.crr.value == pytest.approx(0.0042 - 0.0002 - 0.0001)
    assert build.crr.sd == pytest.approx(math.sqrt(3**2 + 1 + 1) * 1e-4)
    alone = apply_parts(plover, catalogue, parts(catalogue, "Latex tubes"))
    assert alone.crr == Uncertain(plover.crr.value - 0.0002, math.hypot(0.0004, 0.0001))


def test_drag_area_adds_up_at_every_angle(plover, catalogue):
    build = apply_parts(plover, catalogue, parts(catalogue, "Deep wheels 50 mm", "Race suit"))
    areas = build.cda_m2.value * np.array(build.cda_factors)
    assert build.yaw_degs == (0.0, 5.0, 10.0, 15.0, 20.0)
    assert areas == pytest.approx(
        0.315 - 0.0034 + np.array([-0.0010, -0.0015, -0.0025, -0.0030, -0.0020])
    )
    assert build.cda_m2.sd == pytest.approx(math.sqrt(60**2 + 8**2 + 14**2) * 1e-4)
    assert build.cda_factors[0] == 1.0


def test_gears_and_size_are_taken_over(plover, catalogue):
    build = apply_parts(
        plover, catalogue,
        parts(catalogue, "Larger front rings 52/36", "Light alloy wheels", "Race tyres 28 mm"),
    )  # fmt: skip
    assert build.chainrings == (36, 52)
    assert build.sprockets == plover.sprockets
    assert build.wheel_radius_m == pytest.approx(2.13 / (2.0 * math.pi))


def test_price_counts_labour_and_resale(plover, catalogue):
    deep = catalogue.part("Deep wheels 50 mm")
    assert part_cents(catalogue, deep) == (980 + 20 - 60) * 100
    build = apply_parts(plover, catalogue, [deep, catalogue.part("Latex tubes")])
    assert build.price == pytest.approx(1900 + 940 + 32)
    assert build.name == "Plover with Deep wheels 50 mm, Latex tubes"


def test_a_set_sold_together_takes_its_slots_and_their_resale(plover, catalogue):
    whole = catalogue.part("Wheels and tyres together")
    assert whole.slots == ("wheels", "tyres")
    assert part_cents(catalogue, whole) == (520 - 60) * 100
    assert apply_parts(plover, catalogue, [whole]).mass_kg.value == pytest.approx(
        8.6 + 2.030 - 1.980 - 0.540
    )
    assert misfits(catalogue, [whole, catalogue.part("Supple tyres 25 mm")]) == (
        "slot tyres: both Wheels and tyres together and Supple tyres 25 mm take it",
    )


@pytest.mark.parametrize(
    ("names", "reasons"),
    [
        (["Latex tubes"], []),
        (["Race tyres 28 mm"], ["Race tyres 28 mm: only with “wide rim”"]),
        (["Race tyres 28 mm", "Light alloy wheels"], []),
        (["Disc-brake wheels"], ["Disc-brake wheels: not with “rim brakes” (the bike)"]),
        (["Sealant and valves"], ["Sealant and valves: only with “tubeless tyre”"]),
        (
            ["Deep wheels 50 mm", "Tubeless race tyres 28 mm"],
            ["butyl tubes: only with “tyre for tubes”",
             "butyl tubes: not with “tubeless tyre” (Tubeless race tyres 28 mm)"],
        ),
        (["Deep wheels 50 mm", "Tubeless race tyres 28 mm", "Sealant and valves"], []),
    ],
)  # fmt: skip
def test_what_goes_together(catalogue, plover, names, reasons):
    chosen = parts(catalogue, *names)
    assert sorted(misfits(catalogue, chosen)) == sorted(reasons)
    if reasons:
        with pytest.raises(ValueError, match="with"):
            apply_parts(plover, catalogue, chosen)
    else:
        apply_parts(plover, catalogue, chosen)


def test_order_does_not_matter(plover, catalogue):
    chosen = parts(catalogue, "Light alloy wheels", "Race tyres 28 mm", "Closed helmet")
    assert apply_parts(plover, catalogue, chosen) == apply_parts(plover, catalogue, chosen[::-1])


def test_unknown_part(catalogue):
    with pytest.raises(KeyError):
        catalogue.part("wings")

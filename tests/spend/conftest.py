"""Made-up catalogues and races for the spend room."""

from dataclasses import replace

import pytest

from simulator.pacing import constant_demand
from simulator.setup import Catalogue, Part, Slot, Uncertain
from simulator.spend import Race


def _slot(name, *, resale=0.0, provides=(), needs=(), excludes=()):
    return Slot(
        name=name,
        now=f"old {name}",
        resale=resale,
        provides=frozenset(provides),
        needs=frozenset(needs),
        excludes=frozenset(excludes),
    )


def _part(name, *slots, price=0.0, labour=0.0, cda=0.0, cda_sd=0.0, yaw=None, provides=(),
          needs=(), excludes=(), owns=None, gears=None, **changes):  # fmt: skip
    degs, areas = ((0.0,), (cda,)) if yaw is None else yaw
    gears = gears or {}
    return Part(
        name=name,
        slots=slots,
        price=price,
        labour=labour,
        changes=tuple((field, value) for field, value in changes.items()),
        owns=tuple((owns or {}).items()),
        yaw_degs=degs,
        cda_changes_m2=areas,
        cda_change_sd_m2=cda_sd,
        chainrings=gears.get("chainrings"),
        sprockets=gears.get("sprockets"),
        wheel_radius_m=gears.get("wheel_radius_m"),
        provides=frozenset(provides),
        needs=frozenset(needs),
        excludes=frozenset(excludes),
        note="",
    )


@pytest.fixture(scope="session")
def slot():
    """``slot(name, resale=, provides=, needs=, excludes=)``."""
    return _slot


@pytest.fixture(scope="session")
def part():
    """``part(name, *slots, price=, mass_kg=Uncertain(...), cda=..., owns={...}, ...)``."""
    return _part


@pytest.fixture(scope="session")
def catalogue_of():
    """``catalogue_of(slots, parts, provides=())``."""

    def make(slots, parts, provides=()):
        return Catalogue(
            currency="crowns",
            slots=tuple(slots),
            parts=tuple(parts),
            provides=frozenset(provides),
            source="made up",
        )

    return make


@pytest.fixture(scope="session")
def lively_catalogue(catalogue_of):
    """Tags, a bundle, gears, owned and changed figures: 5 slots, 10 parts."""
    slots = [
        _slot("wheels", resale=40.0, provides=["narrow"]),
        _slot("tyres", provides=["clincher"]),
        _slot("tubes", needs=["clincher"]),
        _slot("bar", resale=5.0),
        _slot("habit"),
    ]
    parts = [
        _part("deep", "wheels", price=700.0, labour=20.0, mass_kg=Uncertain(-0.3, 0.03),
              wheel_inertia_kgm2=Uncertain(0.01, 0.005),
              yaw=((0.0, 10.0, 20.0), (-0.001, -0.004, -0.003)), cda_sd=0.001,
              provides=["wide"]),
        _part("light", "wheels", price=400.0, mass_kg=Uncertain(-0.6, 0.03),
              wheel_inertia_kgm2=Uncertain(-0.03, 0.005), provides=["narrow"]),
        _part("supple", "tyres", price=90.0, owns={"crr": Uncertain(0.0038, 0.0002)},
              provides=["clincher"]),
        _part("wide tyres", "tyres", price=120.0, owns={"crr": Uncertain(0.0028, 0.0002)},
              cda=0.001, needs=["wide"], gears={"wheel_radius_m": 0.340}),
        _part("latex", "tubes", price=30.0, crr=Uncertain(-0.0003, 0.0001),
              needs=["clincher"]),
        _part("sealant", "tubes", price=45.5, excludes=["clincher"]),
        _part("whole wheels", "wheels", "tyres", price=480.0, mass_kg=Uncertain(-0.2, 0.05),
              owns={"crr": Uncertain(0.0042, 0.0002)}, provides=["clincher", "narrow"]),
        _part("narrow bar", "bar", price=100.25, cda=-0.003, cda_sd=0.002),
        _part("small gears", "bar", price=60.0, gears={"chainrings": (34, 46)}),
        _part("hold still", "habit", cda=-0.002, cda_sd=0.002,
              drivetrain_efficiency=Uncertain(0.002, 0.001)),
    ]  # fmt: skip
    return catalogue_of(slots, parts)


@pytest.fixture(scope="session")
def short_races(hilly_setup, rolling_course):
    """Two races of 2 km and 1.5 km in different weather, one with a rider who runs empty."""
    rider = replace(hilly_setup.rider, mass_kg=Uncertain(72.0, 0.5))
    weather = replace(hilly_setup.weather, wind_mps=Uncertain(6.0, 1.0))
    calm = replace(hilly_setup.weather, wind_mps=Uncertain(0.0))
    races = []
    for name, n, air, weight in (("long", 400, weather, 2.0), ("short", 300, calm, 1.0)):
        course = rolling_course(n)
        races.append(
            Race(
                name=name,
                course=course,
                rider=rider,
                weather=air,
                demand=constant_demand(course, rider),
                weight=weight,
            )
        )
    return tuple(races)


@pytest.fixture(scope="session")
def doubtful_build(hilly_setup):
    """The hilly setup's build, its figures with doubts."""
    return replace(
        hilly_setup.build,
        mass_kg=Uncertain(8.0, 0.05),
        cda_m2=Uncertain(0.31, 0.005),
        crr=Uncertain(0.0045, 0.0004),
        price=1500.0,
    )

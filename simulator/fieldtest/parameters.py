"""Which unknowns a test day has, what is known about each beforehand, and where each one acts."""

from __future__ import annotations

from dataclasses import dataclass

from simulator.fieldtest.legride import LegFigures
from simulator.fieldtest.legs import Leg, RunReading
from simulator.fieldtest.testday import TestDay, TestedBuild, wind_vector_mps

CDA_BEFORE = (0.30, 3.0)
"""Mean and standard deviation before any run, m²: so wide that the runs alone decide; it only
keeps a fit from failing where they tell nothing."""

CRR_BEFORE = (0.0045, 0.06)
"""The same for Crr. A width near what a small test reaches draws its values towards the mean:
0.006 moved Crr by a twentieth of its uncertainty, and CdA with it, over rehearsed tests."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Parameter:
    """One unknown of a test day, with what is known beforehand.

    ``role`` is the field of `LegFigures` it acts on ("factor" takes several, multiplied), and
    ``owner`` what it belongs to: a build, a spell of wind, a fitting, a leg.
    """

    role: str
    owner: str
    label: str
    unit: str
    before: float
    before_sd: float


def list_parameters(day: TestDay, readings: tuple[RunReading, ...]) -> tuple[Parameter, ...]:
    """Every unknown that any leg depends on; one whose doubt is 0 is no unknown and left out."""
    found: dict[tuple[str, str], Parameter] = {}

    def add(role: str, owner: str, label: str, unit: str, before: float, sd: float) -> None:
        if sd > 0.0 and (role, owner) not in found:
            found[role, owner] = Parameter(
                role=role, owner=owner, label=label, unit=unit, before=before, before_sd=sd
            )

    legs = [leg for reading in readings for leg in reading.legs]
    for tested in day.builds:
        if not any(leg.run.build is tested for leg in legs):
            continue
        for role, label, unit, before in (
            ("cda", "CdA", "m²", CDA_BEFORE),
            ("crr", "Crr", "", CRR_BEFORE),
        ):
            owner = owner_of(role, tested)
            add(role, owner, f"{label} of {owner}", unit, *before)
        mass = tested.build.mass_kg
        add("bike_kg", tested.name, f"mass of {tested.name}", "kg", mass.value, mass.sd)
    add("rider_kg", "", "mass of rider and kit", "kg", day.rider.mass_kg.value, day.mass_sd_kg)
    if any(leg.run.is_powered for leg in legs):
        add("scale", "", "scale of the power meter", "", 1.0, day.meter.scale_sd)
    for leg in legs:
        run = leg.run
        for role, part in zip(
            ("wind_east", "wind_north"), wind_vector_mps(run.weather), strict=True
        ):
            side = "east" if role == "wind_east" else "north"
            add(
                role,
                run.wind_group,
                f"wind from {side}, {run.wind_group}",
                "m/s",
                part,
                day.wind_sd_mps,
            )
        if run.is_powered:
            label = f"meter fitted {run.fitting}"
            add("fitting", run.fitting, label, "", 1.0, day.meter.fitting_sd)
            label = f"zero of the meter, {run.zeroing}"
            add("zero", run.zeroing, label, "W", 0.0, day.meter.zero_sd_w)
        if leg.start is not None:
            label = f"speed at the start, {leg.name}"
            add("start", leg.name, label, "m/s", leg.start.value, leg.start.sd)
        if run.written.kind == "free":
            # Not one for each run: runs on one road share its errors, however many they are.
            piece, _ = leg.rise_piece
            add("rise", piece, f"error of the heights, {piece}", "m", 0.0, day.rise_sd_m)
    return tuple(found.values())


def owner_of(role: str, tested: TestedBuild) -> str:
    """Whose CdA or Crr a build has: its own, or that of the build it was made from by a swap."""
    cause = {"cda": "air", "crr": "rolling"}[role]
    if tested.swap_of is not None and cause not in tested.differs_in:
        return tested.swap_of
    return tested.name


def owners_of_leg(leg: Leg) -> dict[str, str]:
    """Role -> owner for the parameters that a leg depends on."""
    run = leg.run
    owners = {
        "cda": owner_of("cda", run.build),
        "crr": owner_of("crr", run.build),
        "bike_kg": run.build.name,
        "rider_kg": "",
        "wind_east": run.wind_group,
        "wind_north": run.wind_group,
    }
    if run.is_powered:
        owners |= {"scale": "", "fitting": run.fitting, "zero": run.zeroing}
    if leg.start is not None:
        owners["start"] = leg.name
    if run.written.kind == "free":
        owners["rise"] = leg.rise_piece[0]
    return owners


def figures_of_leg(day: TestDay, leg: Leg, values: dict[tuple[str, str], float]) -> LegFigures:
    """The figures of a leg's ride from the values of all unknowns; the rest as stated."""
    owners = owners_of_leg(leg)
    build = leg.run.build.build
    wind = wind_vector_mps(leg.run.weather)
    total_kg = leg.run.written.total_kg

    def value(role: str, nominal: float) -> float:
        return values.get((role, owners.get(role, "-")), nominal)

    bike_kg = value("bike_kg", build.mass_kg.value)
    rider_kg = value("rider_kg", day.rider.mass_kg.value)
    if total_kg is not None:
        # The scales showed the whole; the doubts about its parts stay as shifts.
        shift_kg = bike_kg - build.mass_kg.value + rider_kg - day.rider.mass_kg.value
        rider_kg = total_kg - bike_kg - day.rider.kit_kg.value + shift_kg
    return LegFigures(
        cda=value("cda", build.cda_m2.value),
        crr=value("crr", build.crr.value),
        bike_kg=bike_kg,
        rider_kg=rider_kg,
        wind_east=value("wind_east", wind[0]),
        wind_north=value("wind_north", wind[1]),
        factor=value("scale", 1.0) * value("fitting", 1.0),
        zero=value("zero", 0.0),
        start=value("start", leg.run_up_mps if leg.start is None else leg.start.value),
    )

"""The file of a catalogue of parts: its keys, their limits and meanings; file -> `Catalogue`."""

from __future__ import annotations

import math
from collections.abc import Sequence
from pathlib import Path
from typing import Annotated

from pydantic import Field, model_validator

from simulator.errors import InputError
from simulator.files import (
    StrictSchema,
    UncertainField,
    ValueWithSd,
    in_range,
    nearest_text,
    problem,
    read_toml,
)
from simulator.setup.build_file import MAX_YAW_DEG, YawConvention, along_wind_factors
from simulator.setup.parts import (
    CHANGED_FIELDS,
    OWNED_FIELDS,
    Catalogue,
    Part,
    Slot,
    misfits,
)
from simulator.setup.uncertain import Uncertain, uncertain_of

MAX_PRICE = 1e6
MAX_SLOTS = 30
MAX_PARTS = 500
GRAMS_PER_KG = 1000.0

Price = Annotated[float, in_range(0.0, MAX_PRICE, why="in the currency of the catalogue")]
Tags = Annotated[tuple[Annotated[str, Field(min_length=1, max_length=60)], ...], Field()]
Name = Annotated[str, Field(min_length=1, max_length=60)]


class AreaTable(StrictSchema):
    """How a part changes the drag area in cross-wind."""

    angles_deg: Annotated[
        tuple[float, ...], in_range(0.0, MAX_YAW_DEG, why="degrees off the direction of travel")
    ] = Field(description="angles of the apparent wind to the direction of travel, from 0 upward")
    cda_changes_m2: Annotated[tuple[float, ...], in_range(-0.2, 0.2, why="negative saves time")] = (
        Field(description="change of the drag area at each angle, in m²")
    )
    sd: Annotated[float, in_range(0.0, 0.1)] = Field(
        default=0.0, description="standard uncertainty of all the changes together, in m²"
    )
    convention: YawConvention = Field(default="along_wind", description="as in the file of a build")

    @model_validator(mode="after")
    def _matched(self) -> AreaTable:
        if len(self.angles_deg) != len(self.cda_changes_m2):
            raise problem(
                key="cda_changes_m2",
                found=f"found {len(self.cda_changes_m2)} changes for {len(self.angles_deg)} angles",
                expected="one change for each angle",
            )
        pairs = zip(self.angles_deg, self.angles_deg[1:], strict=False)
        if not self.angles_deg or self.angles_deg[0] != 0.0 or any(b <= a for a, b in pairs):
            raise problem(
                key="angles_deg",
                found="the angles do not grow from 0",
                expected="angles that begin at 0, each larger than the one before it",
            )
        return self


class SlotEntry(StrictSchema):
    """One place on the bike, or one habit, and what is there now."""

    name: Name = Field(description="what to call the slot, as in `wheels`")
    now: Name = Field(description="what is there now, in a few words")
    mass_g: Annotated[UncertainField | None, in_range(0.0, 30000.0)] = Field(
        default=None, description="the mass of what is there now, for parts that state their own"
    )
    resale: Price = Field(
        default=0.0, description="what it brings when a bought part takes its place"
    )
    provides: Tags = Field(default=(), description="what parts may need of it, in words")
    needs: Tags = Field(default=(), description="what must be on the bike for it to stay")
    excludes: Tags = Field(default=(), description="what must not be on the bike for it to stay")


class PartEntry(StrictSchema):
    """One thing that can be bought or done."""

    name: Name = Field(description="what to call the part")
    slot: Name | None = Field(default=None, description="the slot it takes")
    slots: Tags = Field(default=(), description="the slots it takes, for a set sold together")
    price: Price = Field(description="the price; 0 for what costs nothing")
    labour: Price = Field(default=0.0, description="the price of having it fitted")
    note: str = Field(default="", max_length=200, description="what a buyer should know")
    mass_g: Annotated[UncertainField | None, in_range(0.0, 30000.0)] = Field(
        default=None, description="the mass of the part, in g"
    )
    mass_change_g: Annotated[UncertainField | None, in_range(-20000.0, 20000.0)] = Field(
        default=None, description="change of mass against what is there now, in g"
    )
    cda_change_m2: Annotated[
        UncertainField | None, in_range(-0.2, 0.2, why="negative saves time")
    ] = Field(default=None, description="change of the drag area at every angle, in m²")
    wheel_drag_area_change_m2: Annotated[UncertainField | None, in_range(-0.05, 0.05)] = Field(
        default=None, description="change of the drag area for turning both wheels, in m²"
    )
    crr: Annotated[UncertainField | None, in_range(0.001, 0.03)] = Field(
        default=None, description="the rolling resistance that the bike has with this part"
    )
    crr_change: Annotated[UncertainField | None, in_range(-0.02, 0.02)] = Field(
        default=None, description="change of the coefficient of rolling resistance"
    )
    wheel_inertia_change_kgm2: Annotated[UncertainField | None, in_range(-0.5, 0.5)] = Field(
        default=None, description="change of the moment of inertia of both wheels, in kg m²"
    )
    bearing_factor: Annotated[UncertainField | None, in_range(0.0, 10.0)] = Field(
        default=None, description="bearing loss over the standard one, with this part"
    )
    bearing_factor_change: Annotated[UncertainField | None, in_range(-10.0, 10.0)] = Field(
        default=None, description="change of the bearing factor"
    )
    drivetrain_efficiency: Annotated[UncertainField | None, in_range(0.8, 1.0)] = Field(
        default=None, description="power at the wheel over power at the pedals, with this part"
    )
    drivetrain_efficiency_change: Annotated[UncertainField | None, in_range(-0.2, 0.2)] = Field(
        default=None, description="change of the drivetrain's efficiency; 0.01 is one percent"
    )
    grip_dry: Annotated[UncertainField | None, in_range(0.1, 1.3)] = Field(
        default=None, description="friction of the tyres on clean dry asphalt, with this part"
    )
    grip_dry_change: Annotated[UncertainField | None, in_range(-1.0, 1.0)] = Field(
        default=None, description="change of the dry grip"
    )
    grip_wet: Annotated[UncertainField | None, in_range(0.05, 1.0)] = Field(
        default=None, description="friction of the tyres on clean wet asphalt, with this part"
    )
    grip_wet_change: Annotated[UncertainField | None, in_range(-1.0, 1.0)] = Field(
        default=None, description="change of the wet grip"
    )
    chainrings: Annotated[tuple[int, ...], in_range(16, 75, why="teeth")] | None = Field(
        default=None, min_length=1, max_length=3, description="teeth of each chainring"
    )
    sprockets: Annotated[tuple[int, ...], in_range(8, 60, why="teeth")] | None = Field(
        default=None, min_length=1, max_length=14, description="teeth of each sprocket"
    )
    wheel_circumference_m: Annotated[float, in_range(1.0, 2.5)] | None = Field(
        default=None, description="the way that one turn of the loaded wheel rolls, in m"
    )
    provides: Tags = Field(default=(), description="what other parts may need of it, in words")
    needs: Tags = Field(default=(), description="what must be on the bike with it")
    excludes: Tags = Field(default=(), description="what must not be on the bike with it")
    yaw: AreaTable | None = Field(default=None, description="change of the drag area in cross-wind")

    @model_validator(mode="after")
    def _one_way_each(self) -> PartEntry:
        if (self.slot is None) == (not self.slots):
            raise problem(
                key="slot",
                found="found neither `slot` nor `slots`" if not self.slots else "found both",
                expected="`slot = …`, or `slots = […]` for a set sold together",
            )
        pairs = [("mass_g", "mass_change_g"), ("yaw", "cda_change_m2")]
        pairs += [(field, f"{field}_change") for field in OWNED_FIELDS]
        for one, other in pairs:
            if getattr(self, one) is not None and getattr(self, other) is not None:
                raise problem(
                    key=other,
                    found=f"found `{one}` and `{other}`",
                    expected="one of the two",
                )
        if set(self.excludes) & set(self.needs):
            raise problem(
                key="excludes",
                found="the part needs what it excludes",
                expected="words that stand under one of the two",
            )
        if set(self.excludes) & set(self.provides):
            raise problem(
                key="excludes",
                found="the part provides what it excludes",
                expected="words that other parts provide",
            )
        return self

    @property
    def all_slots(self) -> tuple[str, ...]:
        """Every slot that the part takes."""
        return self.slots or ((self.slot,) if self.slot is not None else ())


class PartsFile(StrictSchema):
    """Keys of a catalogue's file."""

    currency: Name = Field(description="what prices are in, as in `crowns`")
    source: str = Field(
        default="", max_length=400, description="where the figures come from, in a few words"
    )
    bike_provides: Tags = Field(
        default=(), description="what frame and fork bring that parts may need, in words"
    )
    slot: Annotated[tuple[SlotEntry, ...], Field(min_length=1, max_length=MAX_SLOTS)] = Field(
        description="a table [[slot]] for each place on the bike"
    )
    part: Annotated[tuple[PartEntry, ...], Field(min_length=1, max_length=MAX_PARTS)] = Field(
        description="a table [[part]] for each thing that can be bought or done"
    )

    @model_validator(mode="after")
    def _names(self) -> PartsFile:
        for kind, entries in (("slot", self.slot), ("part", self.part)):
            names = [entry.name for entry in entries]
            for i, name in enumerate(names):
                if name in names[:i]:
                    raise problem(
                        key=f"{kind}.{i}.name",
                        found=f"there are two of the name {name}",
                        expected="names that differ",
                    )
        slots = {slot.name: slot for slot in self.slot}
        for i, part in enumerate(self.part):
            key = f"part.{i}.slot" if part.slot is not None else f"part.{i}.slots"
            for name in part.all_slots:
                if name not in slots:
                    raise problem(
                        key=key,
                        found=f"there is no slot {name}",
                        expected="the name of a [[slot]]",
                        mend=nearest_text(name, set(slots)),
                    )
                if part.mass_g is not None and slots[name].mass_g is None:
                    raise problem(
                        key=f"part.{i}.mass_g",
                        found=f"the slot {name} does not say what it weighs now",
                        expected="`mass_g` in that [[slot]] too, or `mass_change_g` here",
                    )
            if len(set(part.all_slots)) < len(part.all_slots):
                raise problem(key=key, found="a slot is named twice", expected="each slot once")
        return self

    @model_validator(mode="after")
    def _tags(self) -> PartsFile:
        told = set(self.bike_provides)
        kinds: tuple[tuple[str, Sequence[SlotEntry | PartEntry]], ...]
        kinds = (("slot", self.slot), ("part", self.part))
        for _, entries in kinds:
            told.update(*(entry.provides for entry in entries))
        for kind, entries in kinds:
            for i, entry in enumerate(entries):
                for word in ("needs", "excludes"):
                    for tag in getattr(entry, word):
                        if tag not in told:
                            raise problem(
                                key=f"{kind}.{i}.{word}",
                                found=f"nothing provides “{tag}”",
                                expected="words that stand under some `provides`",
                                mend=nearest_text(tag, told),
                            )
        return self

    @model_validator(mode="after")
    def _owners(self) -> PartsFile:
        """Two parts that both say what a field is must not meet on one bike."""
        for field in (*OWNED_FIELDS, "chainrings", "sprockets", "wheel_circumference_m"):
            owners = [(i, p) for i, p in enumerate(self.part) if getattr(p, field) is not None]
            for n, (i, part) in enumerate(owners):
                for _, earlier in owners[:n]:
                    if not set(part.all_slots) & set(earlier.all_slots):
                        raise problem(
                            key=f"part.{i}.{field}",
                            found=f"{earlier.name}, in another slot, says what `{field}` is too",
                            expected="one slot that says it; the others may change it",
                            mend=f"use `{field}_change`" if field in OWNED_FIELDS else "",
                        )
        return self


def load_parts(path: Path) -> Catalogue:
    """Read the file of a catalogue.

    Parameters
    ----------
    path : Path
        A TOML file.

    Raises
    ------
    InputError
        If the file cannot be used; the message names line and key.
    """
    catalogue = catalogue_of(read_toml(path, PartsFile), fallback_source=f"file {path.name}")
    reasons = misfits(catalogue, ())
    if reasons:
        raise InputError(
            file=str(path),
            place="what is in the slots now",
            found="; ".join(reasons),
            expected="slots whose things go together as the bike stands now",
        )
    return catalogue


def catalogue_of(written: PartsFile, *, fallback_source: str = "") -> Catalogue:
    """Turn checked keys into a `Catalogue`.

    Parameters
    ----------
    written : PartsFile
        The keys.
    fallback_source : str
        Told as the source when the file names none.
    """
    masses_kg = {slot.name: _kg(slot.mass_g) for slot in written.slot if slot.mass_g is not None}
    return Catalogue(
        currency=written.currency,
        slots=tuple(
            Slot(
                name=slot.name,
                now=slot.now,
                resale=slot.resale,
                provides=frozenset(slot.provides),
                needs=frozenset(slot.needs),
                excludes=frozenset(slot.excludes),
            )
            for slot in written.slot
        ),
        parts=tuple(_part(entry, masses_kg, written) for entry in written.part),
        provides=frozenset(written.bike_provides),
        source=written.source or fallback_source,
    )


def _kg(mass_g: ValueWithSd) -> Uncertain:
    return uncertain_of(mass_g, 1.0 / GRAMS_PER_KG)


def _part(entry: PartEntry, masses_kg: dict[str, Uncertain], written: PartsFile) -> Part:
    order = [slot.name for slot in written.slot]
    slots = tuple(sorted(entry.all_slots, key=order.index))
    changes: dict[str, Uncertain] = {}
    if entry.mass_change_g is not None:
        changes["mass_kg"] = _kg(entry.mass_change_g)
    if entry.mass_g is not None:
        new, old = _kg(entry.mass_g), [masses_kg[slot] for slot in slots]
        changes["mass_kg"] = Uncertain(
            new.value - sum(mass.value for mass in old),
            math.hypot(new.sd, *(mass.sd for mass in old)),
        )
    for field in CHANGED_FIELDS:
        stem, _, unit = field.rpartition("_")
        name = f"{stem}_change_{unit}" if unit in ("m2", "kgm2") else f"{field}_change"
        change = getattr(entry, name, None)
        if change is not None:
            changes[field] = uncertain_of(change)
    yaw_degs: tuple[float, ...] = (0.0,)
    cda_changes_m2: tuple[float, ...] = (0.0,)
    sd_m2 = 0.0
    if entry.cda_change_m2 is not None:
        cda_changes_m2, sd_m2 = (entry.cda_change_m2.value,), entry.cda_change_m2.sd
    if entry.yaw is not None:
        yaw_degs, sd_m2 = entry.yaw.angles_deg, entry.yaw.sd
        cda_changes_m2 = along_wind_factors(
            yaw_degs, entry.yaw.cda_changes_m2, entry.yaw.convention
        )
    circumference_m = entry.wheel_circumference_m
    return Part(
        name=entry.name,
        slots=slots,
        price=entry.price,
        labour=entry.labour,
        changes=tuple(changes.items()),
        owns=tuple(
            (field, uncertain_of(getattr(entry, field)))
            for field in OWNED_FIELDS
            if getattr(entry, field) is not None
        ),
        yaw_degs=yaw_degs,
        cda_changes_m2=cda_changes_m2,
        cda_change_sd_m2=sd_m2,
        chainrings=tuple(sorted(entry.chainrings)) if entry.chainrings else None,
        sprockets=tuple(sorted(entry.sprockets)) if entry.sprockets else None,
        wheel_radius_m=None if circumference_m is None else circumference_m / (2.0 * math.pi),
        provides=frozenset(entry.provides),
        needs=frozenset(entry.needs),
        excludes=frozenset(entry.excludes),
        note=entry.note,
    )

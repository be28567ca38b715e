"""What is given to a question: courses, builds, riders, weathers, pacings, from files or keys."""

from __future__ import annotations

import os
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, TypeAlias

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from simulator.bunch import BunchRules
    from simulator.course import Course
    from simulator.pacing import Pacing
    from simulator.setup import Build, Rider, Weather

AnyPath: TypeAlias = "str | os.PathLike[str]"
"""A path as text or as a path object."""


def example_path(name: str) -> Path:
    """Path of a file or folder that comes with the package.

    Parameters
    ----------
    name : str
        As ``"courses/three-hills"`` or ``"configs/plover.toml"``.

    Raises
    ------
    FileNotFoundError
        If there is none of that name.

    Examples
    --------
    >>> example_path("configs/plover.toml").name
    'plover.toml'
    """
    from simulator.starters import starter_path

    return starter_path(name)


def load_course(
    path: AnyPath,
    *,
    laps: int | None = None,
    reverse: bool = False,
    heights: str = "auto",
    tiles: AnyPath | None = None,
) -> Course:
    """Make a course from a GPX track, a course.toml or the folder it stands in.

    Parameters
    ----------
    path : str or path
        The file or folder.
    laps : int, optional
        Laps of a closed course, instead of what its file says.
    reverse : bool
        Ride it the other way.
    heights : str
        ``"auto"``, ``"track"`` or ``"tiles"``: where heights come from.
    tiles : str or path, optional
        Folder with elevation tiles (HGT).

    Returns
    -------
    Course
        Arrays of its n segments and n + 1 nodes, all in SI units: ``lengths_m``, ``grades``,
        ``headings_rad``, ``radii_m``, ``shelters`` (n,), ``node_distances_m``,
        ``node_heights_m`` (n + 1,); tuples of ``corners``, ``features`` and ``findings``.

    Raises
    ------
    InputError
        If anything in the files is missing or wrong.

    Examples
    --------
    >>> load_course(example_path("courses/steady-climb"))
    <Course Steady climb: 3.31 km, 220 m of climbing, 5 corners, 991 segments>
    """
    from simulator.course import build_course

    return build_course(
        Path(path),
        n_laps=laps,
        reverse=reverse,
        heights=heights,
        tiles_folder=None if tiles is None else Path(tiles),
    )


def make_course(
    *,
    lengths_m: ArrayLike,
    grades: ArrayLike,
    headings_rad: ArrayLike | None = None,
    radii_m: ArrayLike | None = None,
    shelters: ArrayLike | None = None,
    crr_factors: ArrayLike | None = None,
    start: str = "rolling",
    start_height_m: float = 0.0,
    name: str = "made",
) -> Course:
    """Make a course straight from arrays, for thought experiments.

    Parameters
    ----------
    lengths_m : (n,) array
        Length of each segment along the road, in m; 5 m is usual.
    grades : (n,) array or float
        Rise over horizontal run.
    headings_rad : (n,) array or float, optional
        Direction of travel, clockwise from north; north if left out.
    radii_m : (n,) array, optional
        Radius of the line ridden; straight if left out.
    shelters : (n,) array or float, optional
        Factor on the wind, 0 (none felt) to 1 (open); open if left out.
    crr_factors : (n,) array or float, optional
        Rolling resistance of the surface over that of smooth dry asphalt; 1 if left out.
    start : str
        ``"standing"`` or ``"rolling"``.
    start_height_m : float
        Height of the first node above sea level.
    name : str
        What to call it.

    Returns
    -------
    Course
        See `load_course`.

    Raises
    ------
    ValueError
        If a length is not above 0, or another array does not fit the lengths.

    Examples
    --------
    >>> import numpy as np
    >>> make_course(lengths_m=np.full(400, 5.0), grades=0.06, name="Wall")
    <Course Wall: 2.00 km, 120 m of climbing, 0 corners, 400 segments>
    """
    import numpy as np

    from simulator.course import course_from_arrays

    lengths = np.atleast_1d(np.asarray(lengths_m, dtype=np.float64))
    if lengths.ndim != 1 or not len(lengths) or not np.all((lengths > 0.0) & (lengths < np.inf)):
        msg = "lengths_m is one row of lengths above 0, at least one"
        raise ValueError(msg)
    columns = {
        "grades": grades,
        "headings_rad": headings_rad,
        "radii_m": radii_m,
        "shelters": shelters,
        "crr_factors": crr_factors,
    }
    for what, values in columns.items():
        column = np.asarray(0.0 if values is None else values, dtype=np.float64)
        if column.shape not in ((), lengths.shape) or np.isnan(column).any():
            msg = f"{what} is one number or {len(lengths)}, one for each length, none missing"
            raise ValueError(msg)
    return course_from_arrays(
        lengths_m=lengths_m,
        grades=grades,
        headings_rad=headings_rad,
        radii_m=radii_m,
        shelters=shelters,
        crr_factors=crr_factors,
        start=start,
        start_height_m=start_height_m,
        name=name,
    )


def load_build(path: AnyPath) -> Build:
    """Read the file of a build (TOML).

    Returns
    -------
    Build
        With every figure in SI units; those with a doubt as ``.value`` and ``.sd``.

    Raises
    ------
    InputError
        If the file cannot be used; the message names line and key.

    Examples
    --------
    >>> load_build(example_path("configs/plover.toml")).mass_kg
    Uncertain(value=8.6, sd=0.05)
    """
    from simulator.setup import load_build

    return load_build(Path(path))


def make_build(**keys: object) -> Build:
    """Make a build from the keys of its file; docs/files.md tells them all.

    Parameters
    ----------
    **keys
        ``name``, ``mass_kg``, ``cda_m2`` and ``crr`` must be given; a number with a doubt is
        ``{"value": 0.0042, "sd": 0.0003}``.

    Returns
    -------
    Build

    Raises
    ------
    InputError
        If a key is unknown, missing or out of range.

    Examples
    --------
    >>> mine = make_build(name="Mine", mass_kg=8.6, cda_m2=0.315, crr=0.0045)
    >>> mine.name, mine.crr.value
    ('Mine', 0.0045)
    """
    from simulator.setup import build_from_keys

    return build_from_keys(keys)


def load_rider(path: AnyPath) -> Rider:
    """Read the file of a rider (TOML).

    Raises
    ------
    InputError
        If the file cannot be used; the message names line and key.

    Examples
    --------
    >>> load_rider(example_path("configs/rider.toml")).power_w.value
    240.0
    """
    from simulator.setup import load_rider

    return load_rider(Path(path))


def make_rider(**keys: object) -> Rider:
    """Make a rider from the keys of its file; every key has a stated default.

    Raises
    ------
    InputError
        If a key is unknown or out of range.

    Examples
    --------
    >>> make_rider(mass_kg=68.0, power_w=230.0, cp_w=255.0, wprime_kj=17.0).wprime_j
    17000.0
    """
    from simulator.setup import rider_from_keys

    return rider_from_keys(keys)


def load_weather(path: AnyPath) -> Weather:
    """Read a weather file (TOML).

    Raises
    ------
    InputError
        If the file cannot be used; the message names line and key.

    Examples
    --------
    >>> load_weather(example_path("configs/weather.toml")).is_wet
    False
    """
    from simulator.setup import load_weather

    return load_weather(Path(path))


def make_weather(**keys: object) -> Weather:
    """Make a weather from the keys of its file; every key has a stated default.

    Raises
    ------
    InputError
        If a key is unknown or out of range.

    Examples
    --------
    >>> windy = make_weather(wind_kmh={"value": 25.0, "sd": 5.0}, wind_from_deg=270.0)
    >>> round(windy.wind_mps.value, 3)
    6.944
    """
    from simulator.setup import weather_from_keys

    return weather_from_keys(keys)


def load_pacing(path: AnyPath) -> Pacing:
    """Read a pacing file (TOML): rules for the power.

    Raises
    ------
    InputError
        If the file cannot be used; the message names line and key.

    Examples
    --------
    >>> load_pacing(example_path("configs/pacing.toml")).name
    'Harder up, easier down'
    """
    from simulator.pacing import load_pacing

    return load_pacing(Path(path))


def make_pacing(name: str, *rules: Mapping[str, object]) -> Pacing:
    """Make a pacing from rules as tables.

    Parameters
    ----------
    name : str
        What to call it.
    *rules : mapping
        Each with the keys of a ``[[rule]]`` table, applied in order to the rider's power.

    Raises
    ------
    InputError
        If a key is unknown, missing or out of range.

    Examples
    --------
    >>> harder = make_pacing("Harder up", {"kind": "grade", "add_w_per_pct": 8.0})
    >>> len(harder.rules)
    1
    """
    from simulator.pacing import pacing_from_keys

    return pacing_from_keys({"name": name, "rule": list(rules)})


def load_bunch(path: AnyPath) -> BunchRules:
    """Read the file of a bunch (TOML): place, shelter, turns.

    Raises
    ------
    InputError
        If the file cannot be used; the message names line and key.

    Examples
    --------
    >>> load_bunch(example_path("configs/bunch.toml")).lost_m
    10.0
    """
    from simulator.bunch import load_bunch

    return load_bunch(Path(path))


def make_bunch(**keys: object) -> BunchRules:
    """Make a bunch from the keys of its file; every key has a stated default.

    Raises
    ------
    InputError
        If a key is unknown or out of range.

    Examples
    --------
    >>> make_bunch(place=3, shelter="line").spacing_m
    2.2
    """
    from simulator.bunch import bunch_from_keys

    return bunch_from_keys(keys)

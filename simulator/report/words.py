"""Sentences and number formats, once. Knows nothing of views, pages or pictures."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping

from simulator.measures import BY_NAME, DASH, METRIC, Measures
from simulator.measures import MINUS as MINUS
from simulator.measures import number as number
from simulator.measures import stopwatch as stopwatch
from simulator.units import clock

NOTHING = DASH
"""Shown where a figure has no meaning."""

NO_BREAK = "\N{NO-BREAK SPACE}"
"""A space at which no line ends."""

TIE_S = 0.05
"""Below this gap two builds tie: no clock at a race reads finer."""

CAUTION = (
    "A predicted speed is never advice to ride it. Roads, traffic and weather decide; "
    "obey local rules and the makers' limits."
)

NO_DRAWS_MADE = "No draws were made: how sure the gap is was left open."
NO_DOUBT_STATED = (
    "No input carries a standard uncertainty, so all of them were taken as exact "
    "and the gap is given without a doubt of its own."
)

SIGN_RULE = (
    "Gap = time of the build minus time of the first build named; "
    "positive means that the build loses."
)

_COUNTS = (
    "no one two three four five six seven eight nine ten eleven twelve".split()  # noqa: SIM905
)

_PLACES = {
    "climb": ("the climb", "the climbs", "climbs"),
    "descent": ("the descent", "the descents", "descents"),
    "flat": ("the flat stretch", "the flat stretches", "flat stretches"),
    "corner": ("the corner", "the corners", "corners"),
    "headwind": ("the road into the wind", "the roads into the wind", "roads into the wind"),
    "crosswind": ("the road across the wind", "the roads across the wind", "roads across the wind"),
    "tailwind": ("the road with the wind", "the roads with the wind", "roads with the wind"),
}

CAUSE_WORDS = {
    "mass": "Mass",
    "air": "Air drag",
    "rolling": "Tyre rolling",
    "wheels": "Wheel inertia and size",
    "bearings": "Bearings",
    "drivetrain": "Drivetrain",
    "gearing": "Gearing",
    "grip": "Tyre grip",
    "caution": "Caution in bends",
    "power": "Power",
}

CAUSE_SHORT = {
    "mass": "Mass",
    "air": "Air",
    "rolling": "Rolling",
    "wheels": "Wheels",
    "bearings": "Bearings",
    "drivetrain": "Drivetrain",
    "gearing": "Gearing",
    "grip": "Grip",
    "caution": "Caution",
}


def cause_words(cause: str) -> str:
    """Name of a cause as it stands in tables."""
    return CAUSE_WORDS.get(cause, cause.capitalize())


def cause_short(cause: str) -> str:
    """Name of a cause as it stands over a narrow column."""
    return CAUSE_SHORT.get(cause, cause.capitalize())


_UNITS = {"W", "kW", "W/kg", "J", "kJ", "N", "m²", "mm", "hPa", "s", "min", "h", "°", "%"}
for _measures in BY_NAME.values():
    _UNITS |= {_measures.distance_unit, _measures.distance_word, _measures.distances_word}
    _UNITS |= {_measures.height_unit, _measures.heights_word, _measures.speed_unit}
    _UNITS |= {_measures.mass_unit, _measures.temperature_unit, _measures.pressure_unit}
# Longer ones first: one may begin with another. Inches are left out: "in" is a word, too.
_ANY_UNIT = "|".join(re.escape(unit) for unit in sorted(_UNITS, key=len, reverse=True))
_BEFORE_UNIT = re.compile(rf"(?<=\d) (?=(?:{_ANY_UNIT})(?![\w′]))")
_AFTER_PLACE_WORD = re.compile(r"(?<=\b[Kk]m) (?=\d)|(?<=\b[Mm]ile) (?=\d)")


def unbroken(text: str) -> str:
    """The text with no-break spaces between a number and its unit, and around ±.

    For pages and pictures, which break lines by themselves; a terminal gets plain spaces.
    """
    text = _AFTER_PLACE_WORD.sub(NO_BREAK, _BEFORE_UNIT.sub(NO_BREAK, text))
    return text.replace(" ± ", f"{NO_BREAK}±{NO_BREAK}")


def signed(value: float, decimals: int = 1) -> str:
    """A number that always shows its sign, but for a rounded zero."""
    text = number(value, decimals)
    return text if value < 0.0 or round(value, decimals) == 0.0 else "+" + text


def percent(share: float, decimals: int = 0) -> str:
    """A share of one in percent."""
    return f"{number(100.0 * share, decimals)} %"


def decimals_for(value_s: float, half_s: float | None = None) -> int:
    """How many decimals a gap in seconds deserves, from its size and its doubt."""
    size = abs(value_s) if half_s is None or half_s <= 0.0 else half_s
    if half_s is not None and half_s > 0.0:
        return 0 if size >= 1.95 else 1 if size >= 0.195 else 2
    return 0 if size >= 9.95 else 1 if size >= 0.995 else 2


def seconds(value_s: float, decimals: int | None = None) -> str:
    """A span of time as one says it, without sign: ``0.34 s``, ``4.2 s``, ``41 s``, ``2:05``."""
    size = abs(value_s)
    decimals = decimals_for(size) if decimals is None else decimals
    if round(size, decimals) < 60.0:
        return f"{number(size, decimals)} s"
    if decimals == 0:
        return clock(size)
    rounded = round(size, decimals)
    whole = math.floor(rounded)
    return clock(whole) + f"{rounded - whole:.{decimals}f}"[1:]


def seconds_give_or_take(value_s: float, half_s: float | None) -> str:
    """A span of time and its doubt, without sign: ``41 s ± 9 s``."""
    decimals = decimals_for(value_s, half_s)
    text = seconds(value_s, decimals)
    return text if half_s is None else f"{text} ± {seconds(half_s, decimals)}"


def signed_seconds(value_s: float, decimals: int | None = None) -> str:
    """A gap with its sign: ``+41 s``, ``−0.34 s``, ``0.00 s``."""
    decimals = decimals_for(value_s) if decimals is None else decimals
    text = seconds(value_s, decimals)
    if round(value_s, decimals) == 0.0:
        return text
    return (MINUS if value_s < 0.0 else "+") + text


def count(n: int) -> str:
    """A small whole number as a word, a large one in digits."""
    return _COUNTS[n] if 0 <= n < len(_COUNTS) else f"{n:,}"


def capital(name: str) -> str:
    """A name with its first letter large, the rest as it is."""
    return name[:1].upper() + name[1:]


def note_line(level: str, text: str) -> str:
    """A caution, doubt or note as a line of its own."""
    text = text if text.endswith((".", "!", "?")) else text + "."
    return text if level == "caution" else f"{capital(level)}: {text}"


def finding_text(text: str, distance_m: float | None, measures: Measures = METRIC) -> str:
    """What was found about a course, with the place in front: ``Km 12.4: …``."""
    at = "" if distance_m is None else f"{capital(measures.place(distance_m))}: "
    return at + measures.said(text)


def short_name(name: str, most: int = 24) -> str:
    """A name cut to fit over a column."""
    return name if len(name) <= most else name[: most - 1] + "…"


def plural(n: int, one: str, many: str | None = None) -> str:
    """``1 lap``, ``3 laps``."""
    return f"{n:,} {one if n == 1 else many or one + 's'}"


def places(kind: str, n: int, *, is_lapped: bool) -> str:
    """All stretches of a kind: ``the climb``, ``the two descents``, ``the corners``."""
    one, all_of_them, many = _PLACES[kind]
    if n == 1:
        return one
    return all_of_them if is_lapped or n > 12 else f"the {count(n)} {many}"


def spoken(
    *,
    course: str,
    first: str,
    other: str,
    gap_s: float,
    half_s: float | None,
    is_told_apart: bool,
    where: str = "",
) -> str:
    """The sentence that a racer would say aloud.

    Parameters
    ----------
    course, first, other : str
        Names.
    gap_s : float
        Time of `other` minus time of `first`, s.
    half_s : float or None
        Half the width of the interval that holds nine in ten draws, s; None without doubt.
    is_told_apart : bool
        Whether that interval leaves out zero.
    where : str
        Ending that says where most of it arises, made by `where_clause`.
    """
    if abs(gap_s) < TIE_S and (half_s is None or half_s < TIE_S):
        return f"On {course}, {other} and {first} tie: less than {TIE_S} s lies between them."
    if not is_told_apart and half_s is not None:
        if abs(gap_s) < TIE_S:
            head = f"{other} and {first} come in together"
        else:
            place = "behind" if gap_s > 0.0 else "ahead of"
            decimals = decimals_for(gap_s, half_s)
            head = f"{other} comes in {seconds(gap_s, decimals)} {place} {first}"
        text = seconds(half_s, decimals_for(gap_s, half_s))
        return (
            f"On {course}, {head}, give or take {text}: no difference that these figures can tell."
        )
    size = seconds_give_or_take(gap_s, half_s)
    if gap_s > 0.0:
        return f"On {course}, {other} gives away {size} to {first}{where}."
    return f"On {course}, {other} gains {size} on {first}{where}."


def untold(sentence: str) -> str:
    """A sentence on builds that lie nearer to each other than their doubt."""
    return f"{sentence.removesuffix('.')}: no difference that these figures can tell."


def minus_is_ahead(low_s: float, room_s: float) -> str:
    """Added to "behind" where the curve goes well below zero."""
    return f" ({MINUS}: ahead)" if low_s < -0.03 * room_s else ""


def lineup_sentence(
    *, course: str, n_builds: int, fastest: str, slowest: str, spread_s: float
) -> str:
    """Many builds in one sentence."""
    if spread_s < TIE_S:
        return (
            f"On {course}, all {count(n_builds)} builds tie: less than {TIE_S} s lies between them."
        )
    return (
        f"On {course}, {fastest} is the fastest of {count(n_builds)} builds, "
        f"{seconds(spread_s)} ahead of {slowest}, the slowest."
    )


def where_clause(
    *,
    gap_s: float,
    half_s: float | None,
    kind: str,
    n_places: int,
    part_s: float,
    is_lapped: bool,
) -> str:
    """How the spoken sentence ends: ``; 27 s of it on the two descents``.

    ``part_s`` is the gap over all `n_places` stretches of the kind that holds most of it; its
    sign is that of ``gap_s``.
    """
    decimals = decimals_for(gap_s, half_s)
    here = ("in " if kind == "corner" else "on ") + places(kind, n_places, is_lapped=is_lapped)
    rest_s = gap_s - part_s
    if round(abs(rest_s), decimals) == 0.0:
        return f"; all of it {here}"
    if rest_s * gap_s > 0.0:
        return f"; {seconds(part_s, decimals)} of it {here}"
    lose, win = ("loses", "wins back") if gap_s > 0.0 else ("wins", "loses")
    here_s, elsewhere_s = seconds(part_s, decimals), seconds(rest_s, decimals)
    return f": it {lose} {here_s} {here} and {win} {elsewhere_s} elsewhere"


def corners_sentence(gap_s: float, corners_s: float, n_corners: int, *, is_lapped: bool) -> str:
    """How much of the gap lies in braking, turning and the surge out of the corners."""
    here = places("corner", n_corners, is_lapped=is_lapped)
    if abs(corners_s) < TIE_S:
        return f"Next to nothing of the gap lies in {here}."
    size = seconds(corners_s)
    part = f"{size} of the gap lies" if corners_s * gap_s > 0.0 else f"{size} is won back"
    return (
        f"{part} in {here} (braking, turning, the surge out); "
        f"the climbs, descents and flats around {'it' if n_corners == 1 else 'them'} already "
        "count it."
    )


def wind_sentence(by_wind: Mapping[str, tuple[float, float]], measures: Measures = METRIC) -> str:
    """Gap on the flats by the wind, also a kilometre or mile, from gap and length of each."""
    parts = []
    names = {"headwind": "into the wind", "tailwind": "with it", "crosswind": "across it"}
    for kind, name in names.items():
        if kind not in by_wind:
            continue
        gap_s, length_m = by_wind[kind]
        rate = signed(measures.per_distance(1000.0 * gap_s / length_m))
        parts.append(
            f"{signed_seconds(gap_s)} {name} ({measures.distance(length_m)}, {rate} s a "
            f"{measures.place_word})"
        )
    return f"Gap on the flats: {', '.join(parts)}."


def chance_sentence(
    first: str, other: str, chance_first_faster: float, chance_other_faster: float, n_draws: int
) -> str:
    """How often each build is the faster one; draws in which they tie count for neither."""
    chance = max(chance_first_faster, chance_other_faster)
    if chance == 0.0:
        return f"{first} and {other} tie in all of {n_draws:,} paired draws."
    name = first if chance_first_faster >= chance_other_faster else other
    often = "all" if chance == 1.0 else "more than 99 %" if chance > 0.99 else percent(chance)
    return f"{name} is the faster one in {often} of {n_draws:,} paired draws."


def stopped_sentence(n_stopped: int, n_draws: int) -> str:
    """Draws that did not count because a rider came to a halt."""
    return (
        f"In {n_stopped:,} of {n_draws:,} draws a rider does not reach the finish; "
        "they are left out of the doubt."
    )


def interval_sentence(other: str, low_s: float, high_s: float, error_s: float) -> str:
    """The interval of the gap and how well the draws settle its ends."""
    decimals = decimals_for(0.0, (high_s - low_s) / 2.0)
    low, high = signed_seconds(low_s, decimals), signed_seconds(high_s, decimals)
    return (
        f"Nine in ten draws put the gap of {other} between {low} and {high}. "
        f"Another set of as many draws would move these ends by about {seconds(error_s)}."
    )


def line_sentence(first: str, other: str, metres: float, measures: Measures = METRIC) -> str:
    """The gap on the road at the finish line; > 0 when `other` is behind."""
    if abs(metres) < 0.5:
        return f"{first} and {other} cross the line side by side."
    ahead, behind = (first, other) if metres > 0.0 else (other, first)
    return f"When {ahead} crosses the line, {behind} has {measures.length(abs(metres))} to go."


def tie_sentence(slower: str, extra_w: float) -> str:
    """How much more power the slower build needs to tie."""
    decimals = 0 if abs(extra_w) >= 9.95 else 1
    return f"To tie, {slower} would need {number(extra_w, decimals)} W more."


def worst_km_sentence(
    slower: str, start_m: float, lost_s: float, measures: Measures = METRIC
) -> str:
    """Which kilometre, or mile, costs the slower build most."""
    head = f"The dearest {measures.distance_word} for {slower}"
    if start_m < 50.0:
        return f"{head} is the first: {seconds(lost_s)}."
    return f"{head} starts at {measures.place(start_m)}: {seconds(lost_s)}."

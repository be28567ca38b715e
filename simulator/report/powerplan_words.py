"""Sentences about plans of power, once."""

from __future__ import annotations

from simulator.report import words

HEALTH_CAUTION = (
    "Hard efforts are not for everybody: when in doubt about your health, see a doctor before you "
    "ride to a plan, and stop when something feels wrong."
)
ROAD_CAUTION = (
    "Ride the course at an easy pace first: surface, traffic, weather and other riders decide how "
    "fast a place may be taken, not a plan."
)
WHEEL_CAUTION = (
    "In a bunch the wheel ahead decides: keep your line, leave room, and look up, not at a card."
)
CARD_CAUTIONS = (
    "When in doubt about your health, see a doctor first.",
    "Ride the course first. Road, weather and bunch decide.",
)
"""Two lines that fit on the card to carry; its page for the phone has all of them in full."""

CARD_BOUND = "For a plain mean: hard efforts are not limited here."

COAST = "coast"
"""Instead of a power, where nothing is pedalled."""

_SAME_MEAN = 0.02
"""Mean powers nearer than this share are told as the same effort."""

CAUTIONS = (HEALTH_CAUTION, words.CAUTION, ROAD_CAUTION)
"""Shown wherever a plan is."""


def power(power_w: float) -> str:
    """A power to ride: whole watts, but for a constant one that is offered as it is; or none."""
    if power_w == 0.0:
        return COAST
    return words.number(power_w, 0 if abs(power_w - round(power_w)) < 0.005 else 1)


def plan_sentence(
    course: str,
    n_changes: int,
    saved_s: float,
    constant_w: float,
    n_laps: int,
    *,
    is_plain_mean: bool = False,
) -> str:
    """What a plan gains, as one says it; of a plan for a plain mean, that it does so on paper."""
    constant = power(constant_w)
    if n_changes == 0:
        return (
            f"On {course}, the plan is the highest constant power that can be held, {constant} W."
        )
    changes = words.plural(n_changes, "change") + " of power"
    if n_laps > 1:
        changes += f" over {words.plural(n_laps, 'lap')}"
    if saved_s < words.TIE_S:
        return (
            f"On {course}, no plan of {changes} beats the highest constant power that can be held, "
            f"{constant} W."
        )
    return (
        f"On {course}, {changes} {'saves' if n_changes == 1 else 'save'} {words.seconds(saved_s)} "
        f"against the best constant power, {constant} W"
        f"{', on paper: a plain mean puts no price on hard efforts' if is_plain_mean else ''}."
    )


def loss_sentence(loss_s: float, quickest_s: float) -> str:
    """What the few steady levels give away to the quickest power."""
    return (
        f"The quickest power, changed at every place, would take {words.stopwatch(quickest_s)}: "
        f"the steady levels give away {words.seconds(max(loss_s, 0.0))} of that."
    )


def reserve_sentence(left_j: float, full_j: float, low_j: float, low_at: str) -> str:
    """What is left of W′ at the lowest point, a place in words, and at the finish."""
    return (
        f"W′ is lowest at {low_at} with "
        f"{words.number(low_j / 1000.0, 1)} kJ of {words.number(full_j / 1000.0, 1)} kJ; "
        f"{words.number(left_j / 1000.0, 1)} kJ are left at the finish."
    )


def settled_sentence(n_rides: int, gained_share: float, is_settled: bool) -> str:
    """How far the search went."""
    if not is_settled:
        return (
            f"The search was cut short after {n_rides:,} rides of the course, when ten more still "
            f"gained {words.number(1.0e6 * gained_share, 1)} millionths of the time."
        )
    return f"Found in {n_rides:,} rides of the course; ten more would gain nothing a clock shows."


def tryout_sentence(
    course: str,
    first: str,
    best: str,
    gain_s: float,
    n: int,
    *,
    means_w: tuple[float, float] | None = None,
) -> str:
    """Which of several pacings that can be ridden is the quickest.

    ``means_w`` are the mean powers of the first and of the best: a gain that is bought with more
    power is told as such.
    """
    if n == 1:
        return f"On {course}, {first} is the one of these pacings that can be ridden as asked for."
    if best == first or gain_s < words.TIE_S:
        return f"On {course}, none of {words.count(n)} pacings that can be ridden beats {first}."
    bought = ""
    if means_w is not None and abs(means_w[1] - means_w[0]) > _SAME_MEAN * means_w[0]:
        bought = (
            f" It takes {words.number(means_w[1])} W on average, {first} "
            f"{words.number(means_w[0])} W: that alone makes a difference."
        )
    return (
        f"On {course}, {best} is the quickest that can be ridden: {words.seconds(gain_s)} ahead of "
        f"{first}.{bought}"
    )


def can_be_done(answer: bool | None, cut_w: float | None) -> str:
    """Whether the rider could do it at all."""
    if answer is None:
        return "not known"
    if answer:
        return "yes"
    return "no" if cut_w is None else f"no, {words.number(cut_w)} W short"


def hold_sentence(has_coasting: bool) -> str:
    """What the power of a stretch means."""
    coasting = (
        "; “coast” is where a descent is too steep or too fast for this rider to pedal, or where "
        "it is not worth a watt"
        if has_coasting
        else ""
    )
    return f"Power is what to hold while you pedal{coasting}. The mean counts coasting as well."


def plain_mean_warning(hardest_w: float, mean_w: float, *, has_reserve: bool) -> str:
    """What a plan for a plain mean leaves out, and what to do instead."""
    hardest = ""
    if hardest_w > mean_w:
        times = words.number(hardest_w / mean_w, 1)
        hardest = f" This one asks for {words.number(hardest_w)} W, {times} times its mean."
    if has_reserve:
        remedy = "Leave out --mean to plan with the critical power and W′ of the rider's file"
    else:
        remedy = (
            "State critical power and W′ (cp_w, wprime_kj) in the rider's file, or plan with "
            "--fourth-power-mean, which weighs hard efforts, and --most"
        )
    return (
        "A plan for a plain mean puts no price on hard efforts: nothing in it asks whether you "
        f"could hold them. Take it for a bound, not for a plan to ride.{hardest} {remedy}."
    )


def days_sentence(quickest: str, slowest: str, spread_s: float) -> str:
    """How much the weather is worth."""
    return (
        f"Between {quickest} and {slowest} lie {words.seconds(spread_s)} with the best plan for "
        "each."
    )

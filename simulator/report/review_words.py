"""Sentences about a recorded ride beside the predicted one."""

from __future__ import annotations

from simulator.compare import Review, Suspect
from simulator.measures import METRIC, Measures
from simulator.report import words
from simulator.units import clock

SIGN_RULE = (
    "Gap = recorded time minus predicted time, stops left out of both; "
    "positive means slower than predicted."
)

HOW_RANKED = (
    "Each line changes one input alone until the predicted ride takes as long as the recorded one. "
    "The likeliest stands first: how often its own uncertainty goes into the change, and how much "
    "of the differences along the course the change explains."
)

LABELS = {
    "wind": "Wind",
    "air": "Drag area CdA",
    "rolling": "Rolling Crr",
    "mass": "Total mass",
    "power": "Power meter",
    "braking": "Braking or traffic",
    "stops": "Around the stops",
}

_NEARLY = 4.0
"""A suspect whose score lies no further behind is nearly as likely (a factor of e² = 7)."""

_WAY_HOME_M = 500.0
"""Less behind the finish is rolling out."""

_NINE_IN_TEN = 1.645
"""Half the width of the interval that holds nine in ten, in standard deviations of a bell curve."""


def headline(review: Review) -> str:
    """The result as one says it."""
    gap = review.gap
    course, total_s = gap.first.course.name, review.told_gap_s
    power = f"with {gap.first.setup.build.name} at the same {words.number(review.recorded_w)} W"
    if abs(total_s) < words.TIE_S * 10.0:
        return f"On {course}, the recorded ride took as long as predicted {power}."
    way = "longer" if total_s > 0.0 else "less"
    size = words.seconds(total_s)
    share = words.percent(abs(total_s) / review.covered_s(gap.first), 1)
    return f"On {course}, the recorded ride took {size} {way} than predicted {power} ({share})."


def further(review: Review, measures: Measures = METRIC) -> tuple[str, ...]:
    """What else there is to say, the verdict first."""
    sentences = [*_verdict(review, measures)]
    sentences += [_most_apart(review, measures)]
    if review.stops:
        sentences.append(_stops(review, measures))
    if review.is_partial:
        span = measures.span(review.from_m, review.to_m)
        sentences.append(
            f"The recording covers {measures.place_word} {span} of the course; only this is told."
        )
    return tuple(sentence for sentence in sentences if sentence)


def _verdict(review: Review, measures: Measures) -> list[str]:
    half_s = _NINE_IN_TEN * review.usual_s
    total_s = review.told_gap_s
    give = words.seconds(half_s)
    if abs(total_s) <= half_s:
        told = (
            f"That is within what the uncertainties of the inputs bring on this ride, ± {give} "
            "(nine in ten): nothing has to be wrong."
        )
    else:
        told = (
            f"That is more than the uncertainties of the inputs bring on this ride, ± {give} "
            "(nine in ten): something is off."
        )
    able = [s for s in review.suspects if s.needed is not None or s.n_places]
    if not able or abs(total_s) < words.TIE_S * 10.0:
        return [told]
    head = "First to doubt" if abs(total_s) > half_s else "If something is, first to doubt"
    sentences = [told, f"{head}: {_accused(able[0], measures)}."]
    near = [suspect for suspect in able[1:] if suspect.score < _NEARLY]
    if near:
        names = ", ".join(_accused(suspect, measures) for suspect in near)
        sentences.append(f"Nearly as likely: {names}.")
    return sentences


def _accused(suspect: Suspect, measures: Measures) -> str:
    label = LABELS[suspect.kind]
    label = label if label[1:2].isupper() else label[:1].lower() + label[1:]
    return f"{label}, {needed_text(suspect, measures)}"


def needed_text(suspect: Suspect, measures: Measures = METRIC) -> str:
    """What one input would have to be."""
    if suspect.n_places:
        where = words.plural(suspect.n_places, "place")
        return f"{words.signed_seconds(suspect.here_s)} at {where}"
    if suspect.needed is None or suspect.nominal is None:
        return "no value within reason"
    needed, nominal = suspect.needed, suspect.nominal
    change = f"{words.signed(100.0 * (needed / nominal - 1.0))} %" if nominal else ""
    match suspect.kind:
        case "wind":
            from_deg = words.number(suspect.needed_from_deg or 0.0)
            was = measures.speed_number(nominal, 0)
            return f"{measures.speed(needed, 0)} from {from_deg}°, not {was}"
        case "air":
            return f"{needed:.4f} m², not {nominal:.4f} ({change})"
        case "rolling":
            return f"{needed:.5f}, not {nominal:.5f} ({change})"
        case "mass":
            return f"{measures.mass(needed, 1)}, not {measures.mass_number(nominal, 1)}"
    shows_pct = 100.0 * (1.0 / needed - 1.0)
    side = "much" if shows_pct > 0.0 else "little"
    return f"shows {words.number(abs(shows_pct), 1)} % too {side}"


def doubt_text(suspect: Suspect, measures: Measures = METRIC) -> str:
    """The uncertainty of one input, and whether it is stated or the usual one."""
    if suspect.doubt is None:
        return words.NOTHING
    sizes = {
        "wind": measures.speed(suspect.doubt, 0),
        "air": f"{suspect.doubt:.4f} m²",
        "rolling": f"{suspect.doubt:.5f}",
        "mass": measures.mass(suspect.doubt, 1),
        "power": f"{words.number(100.0 * suspect.doubt, 1)} %",
    }
    return f"± {sizes[suspect.kind]} ({'usual' if suspect.is_usual else 'stated'})"


def _most_apart(review: Review, measures: Measures) -> str:
    if not review.stretches:
        return ""
    sign = 1.0 if review.told_gap_s >= 0.0 else -1.0
    worst = max(review.stretches, key=lambda stretch: sign * stretch.gap_s)
    if abs(worst.gap_s) < words.TIE_S * 10.0:
        return ""
    span = f"{measures.place_word} {measures.span(worst.start_m, worst.end_m)}"
    return f"They part most on {worst.name}, {span}: {words.signed_seconds(worst.gap_s)}."


def _stops(review: Review, measures: Measures) -> str:
    told = ", ".join(
        f"{measures.place(stop.place_m)}: {clock(stop.standing_s)}" for stop in review.stops[:6]
    )
    more = ", …" if len(review.stops) > 6 else ""
    count = words.plural(len(review.stops), "stop")
    verb = "counts" if len(review.stops) == 1 else "count"
    return (
        f"{words.capital(count)} of {clock(review.standing_s)} in all ({told}{more}) {verb} in "
        "neither ride; the predicted ride brakes and starts again at the same places."
    )


def doubts(review: Review, measures: Measures = METRIC) -> tuple[str, ...]:
    """What of the recording or of the prediction should be taken with care."""
    told = []
    if abs(review.predicted_w / review.recorded_w - 1.0) > 0.01:
        told.append(
            f"The model could not ride the recorded power everywhere: "
            f"{words.number(review.predicted_w)} W instead of {words.number(review.recorded_w)} W."
        )
    if review.smoothed_m > 0.0:
        told.append(
            "The recorded power was averaged over "
            f"{measures.length(review.smoothed_m)} of road, else the model would have stalled."
        )
    if review.recording.speed_source != "device":
        told.append(
            "The recording has no speed of its own: stops are told to a few seconds and braking "
            "is not told."
        )
    if review.onward_laps:
        course = review.gap.first.course
        n_laps = course.n_laps + review.onward_laps
        told.append(
            f"The recording goes on for {measures.distance(review.onward_m, 1)} after the finish: "
            f"it rides {n_laps} laps of this course, and only "
            + ("the first is" if course.n_laps == 1 else f"the first {course.n_laps} are")
            + f" told. Give `--laps {n_laps}` for all."
        )
    return tuple(told)


def remarks(review: Review, measures: Measures = METRIC) -> tuple[str, ...]:
    """What should be known of the recording, and is no reason to doubt it; as `check` tells it."""
    told = [measures.said(repair.text) for repair in review.recording.repairs]
    if review.onward_m > _WAY_HOME_M and not review.onward_laps:
        told.append(
            f"The recording goes on for {measures.distance(review.onward_m, 1)} after the finish; "
            "that is left out."
        )
    return tuple(told)

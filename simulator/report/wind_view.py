"""The wind along a ride, where it turns or grows on the way."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from simulator.measures import METRIC, Measures
from simulator.report import words
from simulator.report.views import PlanView, WindMark
from simulator.ride import Ride
from simulator.setup import winds_mps

_TURNS_DEG = 5.0
_GROWS_MPS = 0.3
_MOMENTS = ("start", "half-way", "finish")


SHIFTING_NOTE = (
    "the wind turns from lap to lap: flats into, across and with it are summed wherever each lap "
    "has them."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class WindArrow:
    """The wind at one moment: degrees by which an arrow that points up is turned, and words."""

    deg: float | None
    text: str


def wind_marks(ride: Ride) -> tuple[WindMark, ...]:
    """The wind at the start, after half the time and at the finish; empty where it stays."""
    times_s = np.array([0.0, 0.5, 1.0]) * ride.time_s
    east, north = winds_mps(ride.setup.weather, times_s)
    speeds = np.hypot(east, north)
    from_deg = np.degrees(np.arctan2(east, north)) % 360.0
    turns = np.abs((from_deg - from_deg[0] + 180.0) % 360.0 - 180.0)
    if np.ptp(speeds) < _GROWS_MPS and (turns.max() < _TURNS_DEG or speeds.max() < _GROWS_MPS):
        return ()
    return tuple(
        WindMark(when=when, wind_mps=float(speed), wind_from_deg=float(deg))
        for when, speed, deg in zip(_MOMENTS, speeds, from_deg, strict=True)
    )


def wind_note(marks: tuple[WindMark, ...], measures: Measures = METRIC) -> str:
    """A wind that changes on the way, in a sentence."""
    told = [
        f"{measures.speed(mark.wind_mps, 0)} from {words.number(mark.wind_from_deg)}° "
        f"{'half-way' if mark.when == 'half-way' else 'at the ' + mark.when}"
        for mark in marks
    ]
    return f"the wind changes during the ride: {', '.join(told)}."


def towards(mark: WindMark) -> tuple[float, float]:
    """East and north part of the direction in which the wind blows, length 1."""
    angle = math.radians(mark.wind_from_deg + 180.0)
    return math.sin(angle), math.cos(angle)


def wind_arrows(plan: PlanView, measures: Measures) -> tuple[WindArrow, ...]:
    """The wind, at three moments where it changes."""
    if plan.winds:
        return tuple(
            WindArrow(
                deg=(mark.wind_from_deg + 180.0) % 360.0,
                text=f"{measures.speed(mark.wind_mps, 0)} {mark.when}",
            )
            for mark in plan.winds
        )
    if plan.wind_mps <= 0.0:
        return (WindArrow(deg=None, text="No wind"),)
    text = f"Wind {measures.speed(plan.wind_mps, 0)}"
    return (WindArrow(deg=(plan.wind_from_deg + 180.0) % 360.0, text=text),)

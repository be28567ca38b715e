"""Quantities in words: metric and imperial say the same, and sentences keep their quantities."""

import copy
import json
import pickle
import re

import pytest

from simulator.measures import IMPERIAL, METRIC, Measures, Phrase, amount, joined

# Exact by the international yard and pound agreement of 1959, as NIST SP 811 (2008), appendix B,
# lists them (from memory): foot 0.3048 m, mile 1609.344 m, pound 0.45359237 kg.


def value_of(text):
    return float(re.search(r"[−\d.,]+", text)[0].replace(",", "").replace("−", "-"))


@pytest.mark.parametrize(
    ("imperial", "told"),
    [
        # A marathon is 42.195 km or 26 miles 385 yards (26.2188 mi), by rule.
        (IMPERIAL.distance(42_195.0), "26.22 mi"),
        (IMPERIAL.distance(1609.344), "1.00 mi"),
        # Mont Blanc: 4808 m or 15,774 ft in any atlas.
        (IMPERIAL.height(4808.0), "15,774 ft"),
        # The fixed points of both scales, and where they meet.
        (IMPERIAL.temperature(0.0), "32 °F"),
        (IMPERIAL.temperature(100.0), "212 °F"),
        (IMPERIAL.temperature(-40.0), "−40 °F"),
        # Rules of racing weigh bikes at 6.8 kg or 14.99 lb.
        (IMPERIAL.mass(6.8), "14.99 lb"),
        # 60 mph is 26.8224 m/s.
        (IMPERIAL.speed(26.8224), "60.0 mph"),
        (IMPERIAL.paper(74.0, 105.0), "2.9 x 4.1 in"),
    ],
)
def test_known_quantities(imperial, told):
    assert imperial == told


@pytest.mark.parametrize("wording", ["distance", "height", "speed", "mass", "length", "place"])
@pytest.mark.parametrize("value", [0.4, 3.0, 64.0, 402.0, 994.0, 1234.0, 54_190.0])
def test_both_say_the_same(wording, value):
    si = {
        "km": 1000.0, "m": 1.0, "km/h": 1 / 3.6, "kg": 1.0,
        "mi": 1609.344, "mile": 1609.344, "ft": 0.3048, "mph": 0.44704, "lb": 0.45359237,
    }  # fmt: skip
    for measures in (METRIC, IMPERIAL):
        text = getattr(measures, wording)(value)
        unit = text.split(" ")[0 if wording == "place" else 1]
        decimals = len(text.partition(".")[2].split(" ")[0])
        last_digit = 10.0**-decimals * si[unit]
        if wording == "length" and not decimals:
            last_digit *= 10.0  # told in tens
        assert value_of(text) * si[unit] == pytest.approx(value, abs=0.51 * last_digit)


@pytest.mark.parametrize(
    ("measures", "metres", "text"),
    [
        (METRIC, 64.0, "64 m"),
        (METRIC, 707.0, "710 m"),
        (METRIC, 994.0, "990 m"),
        (METRIC, 1234.0, "1.2 km"),
        (IMPERIAL, 30.0, "98 ft"),
        (IMPERIAL, 240.0, "790 ft"),
        (IMPERIAL, 402.0, "1,320 ft"),
        (IMPERIAL, 805.0, "0.50 mi"),
    ],
)
def test_lengths_change_their_unit(measures, metres, text):
    assert measures.length(metres) == text


@pytest.mark.parametrize("measures", [METRIC, IMPERIAL])
@pytest.mark.parametrize("most_m", [12.0, 70.0, 300.0, 700.0, 1400.0, 9000.0, 47_000.0])
def test_scale_bars_are_round_in_their_own_unit(measures, most_m):
    length_m = measures.round_length_m(most_m)
    assert 0.35 * most_m <= length_m <= most_m
    assert re.fullmatch(
        r"[125]0*(\.0+)?|0\.[125]0?", measures.length(length_m).split(" ")[0].replace(",", "")
    )


def test_a_rate_is_that_of_a_longer_unit():
    assert METRIC.per_distance(3.0) == 3.0
    assert IMPERIAL.per_distance(3.0) == pytest.approx(3.0 * 1.609344)
    assert IMPERIAL.rate_unit == "s per mi"


PHRASE = Phrase(
    "On {course}, a gap of {gap} at {place}",
    course="The {5 km} loop",
    gap=amount(Measures.height, 240.0),
    place=amount(Measures.place, 12_400.0),
)


@pytest.mark.parametrize(
    "same", [PHRASE, copy.deepcopy(PHRASE), pickle.loads(pickle.dumps(PHRASE))]
)
def test_a_phrase_is_metric_text_that_can_be_told_otherwise(same):
    assert same == "On The {5 km} loop, a gap of 240 m at km 12.4"
    assert json.loads(json.dumps([same])) == [str(same)]
    assert IMPERIAL.said(same) == "On The {5 km} loop, a gap of 787 ft at mile 7.71"
    assert METRIC.said(same) == same


def test_phrases_within_phrases_and_plain_text():
    outer = Phrase("{a}; {b}", a=PHRASE, b=" plain")
    assert IMPERIAL.said(outer).endswith("787 ft at mile 7.71;  plain")
    assert IMPERIAL.said("5 km as somebody wrote it") == "5 km as somebody wrote it"


def test_tyres_are_pumped_in_psi_where_feet_are_used():
    # 7 bar is 101.5 psi in any pressure table.
    assert METRIC.tyre_pressure(6.0, 6.25) == "6 / 6.25 bar"
    assert IMPERIAL.tyre_pressure(7.0) == "102 psi"


def test_joined_texts_keep_their_quantities():
    both = joined(", ", [PHRASE, "as it {is}"])
    assert IMPERIAL.said(both).endswith("787 ft at mile 7.71, as it {is}")
    assert both.endswith("240 m at km 12.4, as it {is}")

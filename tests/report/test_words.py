import pytest

from simulator.measures import IMPERIAL, METRIC
from simulator.report import words


@pytest.mark.parametrize(
    ("value", "decimals", "text"),
    [
        (0.0, 1, "0.0"),
        (-0.04, 1, "0.0"),
        (0.04, 1, "0.0"),
        (-1.25, 1, "−1.2"),
        (1234.5, 1, "+1,234.5"),
        (3.0, 0, "+3"),
    ],
)
def test_a_signed_number_has_a_sign_unless_it_rounds_to_zero(value, decimals, text):
    assert words.signed(value, decimals) == text


@pytest.mark.parametrize(
    ("seconds", "text"),
    [
        (0.0, "0:00.0"),
        (9.96, "0:10.0"),
        (59.96, "1:00.0"),
        (125.34, "2:05.3"),
        (3753.0, "1:02:33.0"),
        (-1.0, "−0:01.0"),
        (-0.04, "0:00.0"),
    ],
)
def test_a_stopwatch_reads_to_a_tenth_and_carries_over(seconds, text):
    assert words.stopwatch(seconds) == text


@pytest.mark.parametrize(
    ("seconds", "text"),
    [
        (0.344, "0.34 s"),
        (4.21, "4.2 s"),
        (9.96, "10 s"),
        (41.3, "41 s"),
        (59.6, "1:00"),
        (125.0, "2:05"),
        (-41.3, "41 s"),
        (3753.0, "1:02:33"),
    ],
)
def test_a_span_is_said_with_as_many_decimals_as_it_deserves(seconds, text):
    assert words.seconds(seconds) == text


@pytest.mark.parametrize(
    ("gap", "half", "text"),
    [
        (41.3, 9.2, "41 s ± 9 s"),
        (4.23, 0.88, "4.2 s ± 0.9 s"),
        (125.4, 9.0, "2:05 ± 9 s"),
        (125.44, 0.41, "2:05.4 ± 0.4 s"),
        (59.97, 0.3, "1:00.0 ± 0.3 s"),
        (12.3, 75.0, "12 s ± 1:15"),
        (0.523, 0.021, "0.52 s ± 0.02 s"),
        (41.3, None, "41 s"),
    ],
)
def test_gap_and_doubt_share_their_decimals(gap, half, text):
    assert words.seconds_give_or_take(gap, half) == text


def spoken(gap_s, half_s=None, is_told_apart=True, where=""):
    return words.spoken(
        course="Three Hills",
        first="Gannet",
        other="Plover",
        gap_s=gap_s,
        half_s=half_s,
        is_told_apart=is_told_apart,
        where=where,
    )


def test_the_sentence_says_who_loses():
    where = words.where_clause(
        gap_s=41.0, half_s=9.0, kind="descent", n_places=2, part_s=27.0, is_lapped=False
    )
    assert spoken(41.0, 9.0, where=where) == (
        "On Three Hills, Plover gives away 41 s ± 9 s to Gannet; 27 s of it on the two descents."
    )


def test_the_sentence_turns_round_when_the_other_build_is_faster():
    assert spoken(-4.2) == "On Three Hills, Plover gains 4.2 s on Gannet."


@pytest.mark.parametrize("gap_s", [0.0, 0.04, -0.04])
def test_less_than_a_twentieth_of_a_second_is_a_tie(gap_s):
    assert "tie" in spoken(gap_s)
    assert "gives away" not in spoken(gap_s)


def test_a_tie_with_doubt_is_not_called_one():
    text = spoken(0.01, 5.0, is_told_apart=False)
    assert "come in together, give or take 5 s" in text
    assert "no difference that these figures can tell" in text


@pytest.mark.parametrize(("gap_s", "place"), [(4.0, "behind"), (-4.0, "ahead of")])
def test_a_doubt_larger_than_the_gap_is_said(gap_s, place):
    assert spoken(gap_s, 9.0, is_told_apart=False) == (
        f"On Three Hills, Plover comes in 4 s {place} Gannet, give or take 9 s: "
        "no difference that these figures can tell."
    )


def test_more_than_all_of_the_gap_in_one_place_means_that_some_is_won_back():
    text = words.where_clause(
        gap_s=10.0, half_s=None, kind="climb", n_places=3, part_s=14.0, is_lapped=False
    )
    assert text == ": it loses 14 s on the three climbs and wins back 4 s elsewhere"


def test_the_same_for_a_build_that_wins():
    text = words.where_clause(
        gap_s=-10.0, half_s=None, kind="climb", n_places=1, part_s=-14.0, is_lapped=False
    )
    assert text == ": it wins 14 s on the climb and loses 4 s elsewhere"


def test_all_of_the_gap_in_one_place():
    text = words.where_clause(
        gap_s=10.0, half_s=None, kind="corner", n_places=30, part_s=9.99, is_lapped=True
    )
    assert text == "; all of it in the corners"


@pytest.mark.parametrize(
    ("chance", "its", "text"),
    [
        (1.0, 0.0, "Gannet is the faster one in all of 2,000"),
        (0.9995, 0.0005, "Gannet is the faster one in more than 99 % of 2,000"),
        (0.81, 0.19, "Gannet is the faster one in 81 % of 2,000"),
        (0.19, 0.81, "Plover is the faster one in 81 % of 2,000"),
        (0.0, 1.0, "Plover is the faster one in all of 2,000"),
        # A tie is nobody's: the rest of the draws is not the other one's.
        (0.3, 0.0, "Gannet is the faster one in 30 % of 2,000"),
        (0.0, 0.0, "Gannet and Plover tie in all of 2,000"),
    ],
)
def test_the_chance_names_the_build_that_is_faster_more_often(chance, its, text):
    assert words.chance_sentence("Gannet", "Plover", chance, its, 2000).startswith(text)


def test_flats_by_the_wind_leave_none_out():
    by_wind = {"headwind": (28.0, 7000.0), "tailwind": (-9.0, 3000.0), "crosswind": (8.4, 4000.0)}
    assert words.wind_sentence(by_wind) == (
        "Gap on the flats: +28 s into the wind (7.0 km, +4.0 s a km), "
        f"{words.MINUS}9.0 s with it (3.0 km, {words.MINUS}3.0 s a km), "
        "+8.4 s across it (4.0 km, +2.1 s a km)."
    )


def test_metres_at_the_line_name_who_is_behind():
    assert words.line_sentence("G", "P", 240.0) == "When G crosses the line, P has 240 m to go."
    assert words.line_sentence("G", "P", -24.0) == "When P crosses the line, G has 24 m to go."
    assert "side by side" in words.line_sentence("G", "P", 0.1)


def test_the_caution_is_the_agreed_one():
    assert words.CAUTION == (
        "A predicted speed is never advice to ride it. Roads, traffic and weather decide; "
        "obey local rules and the makers' limits."
    )


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("at 240 W, 3.5 W/kg", "at 240_W, 3.5_W/kg"),
        ("41 s ± 9 s", "41_s_±_9_s"),
        ("0.032 ± 0.011 m² more", "0.032_±_0.011_m² more"),
        ("12.4 km at 38.4 km/h, 7.71 mi, 820 ft", "12.4_km at 38.4_km/h, 7.71_mi, 820_ft"),
        ("loses contact at km 7.7; Mile 4.78: wet", "loses contact at km_7.7; Mile_4.78: wet"),
        ("2 % of 1,000 draws, −3 °C", "2_% of 1,000 draws, −3_°C"),
        ("18.0 kJ of W′, 40 kilometres", "18.0_kJ of W′, 40_kilometres"),
        # No units: a word that begins like one, a plain count, a name.
        ("10 small hills, 3 miners, 8 in place", "10 small hills, 3 miners, 8 in place"),
        ("A1 Wharf, 2 hands, 5 W′ curves", "A1 Wharf, 2 hands, 5 W′ curves"),
    ],
)
def test_no_line_ends_between_a_number_and_its_unit(text, shown):
    assert words.unbroken(text) == shown.replace("_", "\N{NO-BREAK SPACE}")
    # Nothing but spaces changes, and doing it twice changes nothing.
    assert words.unbroken(text).replace("\N{NO-BREAK SPACE}", " ") == text
    assert words.unbroken(words.unbroken(text)) == words.unbroken(text)


@pytest.mark.parametrize("measures", [METRIC, IMPERIAL])
def test_every_wording_of_a_quantity_stays_on_one_line(measures):
    said = [
        measures.distance(12_400.0), measures.place(7_700.0), measures.length(240.0),
        measures.height(41.0), measures.speed(11.0), measures.mass(7.1),
        measures.temperature(18.0), words.seconds(34.0), words.percent(0.44),
    ]  # fmt: skip
    assert [" " in words.unbroken(text) for text in said] == [False] * len(said)

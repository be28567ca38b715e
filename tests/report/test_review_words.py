"""What is said of a recorded ride beside the predicted one."""

from dataclasses import replace

import numpy as np
import pytest

from simulator.compare import Review, Stop, Suspect
from simulator.measures import IMPERIAL
from simulator.pacing import Demand
from simulator.recordings import Recording, Repair
from simulator.report import make_review_view, review_text, trust_text
from simulator.report.review_output import where_table
from simulator.report.review_words import doubt_text, headline, needed_text


@pytest.mark.parametrize(
    ("suspect", "metric", "imperial"),
    [
        (
            Suspect(kind="wind", nominal=5.0, needed=7.5, needed_from_deg=292.3),
            "27 km/h from 292°, not 18",
            "17 mph from 292°, not 11",
        ),
        (Suspect(kind="air", nominal=0.3, needed=0.33), "0.3300 m², not 0.3000 (+10.0 %)", None),
        (
            Suspect(kind="rolling", nominal=0.004, needed=0.003),
            "0.00300, not 0.00400 (−25.0 %)",
            None,
        ),
        (
            Suspect(kind="mass", nominal=80.0, needed=83.0),
            "83.0 kg, not 80.0",
            "183.0 lb, not 176.4",
        ),
        # What is shown is more than what is true by as much as it must be cut.
        (Suspect(kind="power", nominal=1.0, needed=1.0 / 1.03), "shows 3.0 % too much", None),
        (Suspect(kind="power", nominal=1.0, needed=1.0 / 0.97), "shows 3.0 % too little", None),
        (Suspect(kind="mass", nominal=80.0), "no value within reason", None),
        (Suspect(kind="braking", n_places=2, here_s=12.4), "+12 s at 2 places", None),
        (Suspect(kind="stops", n_places=1, here_s=4.2), "+4.2 s at 1 place", None),
    ],
)
def test_what_each_would_have_to_be(suspect, metric, imperial):
    assert needed_text(suspect) == metric
    assert needed_text(suspect, IMPERIAL) == (imperial or metric)


def test_doubts_say_whether_they_are_stated():
    stated = Suspect(kind="power", doubt=0.021, is_usual=False)
    assert doubt_text(stated) == "± 2.1 % (stated)"
    assert doubt_text(Suspect(kind="air", doubt=0.012, is_usual=True)) == "± 0.0120 m² (usual)"
    assert doubt_text(Suspect(kind="braking", n_places=1)) == "–"


@pytest.fixture
def made_review(hilly):
    """The made-up rides of the other tests, as if one had been recorded."""
    n = 3
    recording = Recording(
        name="<b>my\x1b[31m ride</b>.csv",
        kind="csv",
        start_time="",
        times_s=np.arange(n),
        **{
            name: np.zeros(n)
            for name in (
                "lats_deg",
                "lons_deg",
                "heights_m",
                "distances_m",
                "speeds_mps",
                "powers_w",
                "cadences_rpm",
                "temperatures_degc",
            )
        },
        speed_source="device",
        rhythm="every second",
        repairs=(),
    )
    gap = hilly.gap
    return Review(
        recording=recording,
        gap=gap,
        from_m=0.0,
        to_m=gap.first.course.distance_m,
        stretches=hilly.stretches,
        corners=hilly.corners,
        stops=(Stop(place_m=2400.0, standing_s=65.0), Stop(place_m=9100.0, standing_s=20.0)),
        braking=(),
        suspects=(
            Suspect(kind="air", nominal=0.3, needed=0.33, doubt=0.01, times_doubt=3.0, score=0.0),
            Suspect(kind="mass", nominal=80.0, needed=86.0, doubt=1.0, times_doubt=6.0, score=2.0),
            Suspect(kind="wind", nominal=3.0, score=np.inf),
        ),
        usual_s=10.0,
        recorded_w=235.0,
        predicted_w=235.0,
        smoothed_m=0.0,
        demand=Demand(powers_w=gap.first.powers_w, text="the recorded power"),
    )


def test_slower_and_quicker_are_told_apart(made_review):
    assert "took 1:12 longer than predicted with Gannet at the same 235 W" in headline(made_review)
    from simulator.compare import measure_gap

    gap = made_review.gap
    turned = replace(made_review, gap=measure_gap(gap.other, gap.first))
    assert "took 1:12 less than predicted" in headline(turned)
    even = replace(made_review, gap=measure_gap(gap.first, gap.first))
    assert "took as long as predicted" in headline(even)


def test_the_verdict_weighs_the_gap_against_the_doubts(made_review):
    beyond = " ".join(make_review_view(made_review).more)
    assert "more than the uncertainties of the inputs bring on this ride, ± 16 s" in beyond
    assert "First to doubt: drag area CdA, 0.3300 m², not 0.3000 (+10.0 %)." in beyond
    assert "Nearly as likely: total mass, 86.0 kg, not 80.0." in beyond
    within = " ".join(make_review_view(replace(made_review, usual_s=100.0)).more)
    assert "nothing has to be wrong" in within
    assert "If something is, first to doubt" in within


def test_stops_and_cover_are_told(made_review):
    told = " ".join(make_review_view(made_review).more)
    assert "2 stops of 1:25 in all (km 2.4: 1:05, km 9.1: 0:20) count in neither ride" in told
    assert "covers" not in told
    part = make_review_view(replace(made_review, to_m=9000.0))
    assert "The recording covers km 0.0–9.0 of the course" in " ".join(part.more)
    one = make_review_view(replace(made_review, stops=made_review.stops[:1]))
    assert "1 stop of 1:05 in all (km 2.4: 1:05) counts in neither ride" in " ".join(one.more)


def test_times_of_a_part_are_those_of_the_part(made_review):
    from_m, to_m = 3000.0, 9000.0
    gap = made_review.gap
    part = replace(made_review, from_m=from_m, to_m=to_m, predicted_w=210.0, recorded_w=211.0)
    view = make_review_view(part)
    times_s = [ride.time_at_s(to_m) - ride.time_at_s(from_m) for ride in (gap.first, gap.other)]
    for build, time_s, power_w in zip(
        (view.along.first, view.along.other), times_s, (210.0, 211.0), strict=True
    ):
        assert build.time_s == pytest.approx(time_s)
        assert build.mean_speed_mps == pytest.approx((to_m - from_m) / time_s)
        assert build.mean_power_w == power_w
    lost_s = times_s[1] - times_s[0]
    assert view.along.gap_s == pytest.approx(lost_s)
    assert f"({100.0 * lost_s / times_s[0]:.1f} %)" in view.sentence
    total = where_table(view).total
    texts = [cell.text for cell in total.cells]
    assert texts[:3] == ["All", "3.0–9.0", "6.0 km"]
    assert texts[-1] == f"{lost_s / 6.0:+.1f}"


def test_laps_that_were_not_recorded_are_not_told(made_review, lapped):
    ends_m = lapped.gap.first.course.lap_starts_m
    part = replace(
        made_review,
        gap=lapped.gap,
        stretches=lapped.stretches,
        corners=(),
        stops=(),
        from_m=float(ends_m[1]) + 10.0,
        to_m=float(ends_m[-2]) + 700.0,
    )
    names = [lap.name for lap in make_review_view(part).along.laps]
    assert names == ["Lap 2", "Lap 3", "Lap 4", "Lap 5"]
    whole = replace(part, from_m=0.0, to_m=float(ends_m[-1]))
    assert len(make_review_view(whole).along.laps) == 6
    assert "\nWhere, 6 laps " in review_text(make_review_view(whole))


def test_the_table_of_doubts_is_not_cut(made_review):
    loud = Suspect(kind="air", nominal=0.315, needed=0.3475, doubt=0.006, times_doubt=5.4, fit=0.99)
    text = review_text(make_review_view(replace(made_review, suspects=(loud,) * 2)))
    assert "0.3475 m², not 0.3150 (+10.3 %)" in text


def test_what_weakens_the_answer_is_a_note(made_review):
    weak = replace(made_review, predicted_w=220.0, smoothed_m=60.0)
    notes = " ".join(note.text for note in make_review_view(weak).along.notes)
    assert "220 W instead of 235 W" in notes
    assert "averaged over 60 m of road" in notes
    assert "A predicted speed is never advice to ride it." in notes


def test_terminal_fits_and_names_steer_nothing(made_review):
    view = make_review_view(made_review)
    for text in (review_text(view), trust_text(view)):
        assert max(map(len, text.splitlines())) <= 80
        assert "\x1b" not in text
    review_text(view, encoding="ascii").encode("ascii")
    assert "no value within reason" in review_text(view)


def test_more_laps_than_asked_for_are_told_with_what_to_give(made_review):
    """Three laps of 12 km were recorded on a course of one."""
    told = make_review_view(replace(made_review, onward_m=24_000.0, onward_laps=2)).along.notes
    (doubt,) = [note.text for note in told if note.level == "doubt"]
    assert doubt == (
        "The recording goes on for 24.0 km after the finish: it rides 3 laps of this course, and "
        "only the first is told. Give `--laps 3` for all."
    )
    home = make_review_view(replace(made_review, onward_m=3200.0)).along.notes
    assert ("note", "The recording goes on for 3.2 km after the finish; that is left out.") in [
        (note.level, note.text) for note in home
    ]
    assert not any("goes on" in n.text for n in make_review_view(made_review).along.notes)


def test_what_was_mended_is_a_note_as_check_tells_it(made_review):
    mended = Repair(kind="distance", text="distance was worked out from positions")
    recording = replace(made_review.recording, repairs=(mended,))
    told = make_review_view(replace(made_review, recording=recording)).along.notes
    assert [note.level for note in told if note.text == mended.text] == ["note"]

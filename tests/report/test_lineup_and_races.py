"""Many builds at once: what is said of all of them is true of each, and of no pair alone."""

from dataclasses import replace

import numpy as np
import pytest

from simulator.compare import Race, explain, explain_many, race_table
from simulator.course import course_from_arrays
from simulator.pacing import constant_demand
from simulator.report import (
    draw_races,
    lineup_text,
    make_gap_view,
    make_lineup_view,
    make_races_view,
    races_page,
    races_text,
    words,
)
from simulator.report.page import gap_page, lineup_page
from simulator.report.races_output import draw_races_narrow
from simulator.setup import RideSetup, Uncertain, default_rider, default_weather


@pytest.fixture(scope="module")
def course():
    radii_m = np.full(400, np.inf)
    radii_m[200:204] = 12.0
    return course_from_arrays(
        lengths_m=np.full(400, 5.0), grades=np.zeros(400), radii_m=radii_m, name="Bend"
    )


@pytest.fixture(scope="module")
def setups(made):
    """A build with its equal, a bold one and one that carries a doubt as large as its gap."""
    rider, weather = default_rider(), default_weather()
    exact = replace(
        made.GANNET,
        **{
            name: Uncertain(value.value)
            for name in made.GANNET.__dataclass_fields__
            if isinstance(value := getattr(made.GANNET, name), Uncertain)
        },
    )
    builds = (
        replace(exact, name="Plain"),
        replace(exact, name="Equal"),
        replace(exact, name="Daring", caution="bold"),
        replace(exact, name="Unsure", crr=Uncertain(exact.crr.value * 1.01, 0.001)),
    )
    return [RideSetup(rider=rider, build=build, weather=weather) for build in builds]


def one_line(text):
    return " ".join(text.split())


def races_of(course, setups, *, names=("Bend",), n_draws=300):
    races = [
        Race(
            name=name,
            course=course,
            weather=setups[0].weather,
            weather_number=0,
            demand=constant_demand(course, setups[0].rider),
        )
        for name in names
    ]
    builds = [setup.build for setup in setups]
    return race_table(races, rider=setups[0].rider, builds=builds, n_draws=n_draws)


def test_a_bold_build_is_named_whatever_its_place(course, setups):
    for others in (setups[1:3], setups[2:0:-1]):
        found = explain_many(course=course, first=setups[0], others=others, n_draws=0)
        line_up = one_line(lineup_text(make_lineup_view(found, folders=["2", "3"])))
        races = one_line(races_text(make_races_view(races_of(course, [setups[0], *others]))))
        for text in (line_up, races):
            assert "the same on every build" not in text
            assert text.count("“bold” on Daring, as its file asks") == 1
    calm = make_races_view(races_of(course, setups[:2]))
    assert "the same on every build" in one_line(races_text(calm))
    assert "No rider was given" in one_line(races_text(calm))


def test_equal_builds_tie_in_every_draw(course, setups):
    shared = replace(setups[0].rider, power_w=Uncertain(240.0, 10.0))
    pair = [replace(setup, rider=shared) for setup in setups[:2]]
    view = make_gap_view(explain(course=course, first=pair[0], other=pair[1], n_draws=300))
    assert view.doubt.chance_first_faster == view.doubt.chance_other_faster == 0.0
    page = gap_page(view)
    assert "Plain and Equal tie in all of 300 paired draws." in page
    assert "faster one" not in page
    assert 'class="histogram"' not in page
    told = make_races_view(races_of(course, pair, names=("Bend 1", "Bend 2")))
    assert told.more == ("Equal and Plain tie in every race.",)


def test_the_first_of_many_is_not_called_fastest_without_a_doubt(course, setups):
    several = [setups[0], setups[1], setups[3]]
    found = explain_many(course=course, first=several[0], others=several[1:], n_draws=400, seed=9)
    line_up = make_lineup_view(found, folders=["2", "3"])
    assert "400 draws, seed 9." in lineup_page(line_up)
    assert not line_up.rows[2].is_told_apart
    sentences = (
        line_up.sentence,
        make_races_view(races_of(course, several)).sentence,
    )
    for sentence in sentences:
        assert "the slowest: no difference that these figures can tell." in sentence


def test_notes_of_one_pair_alone_carry_its_name(course, setups):
    found = explain_many(course=course, first=setups[0], others=setups[1:4:2], n_draws=400)
    stopped = replace(found[1], doubt=replace(found[1].doubt, n_stopped=7))
    notes = make_lineup_view([found[0], stopped], folders=["2", "3"]).notes
    texts = [note.text for note in notes]
    assert [text for text in texts if "does not reach" in text] == [
        f"Unsure: {words.stopped_sentence(7, 400)}"
    ]
    assert texts.count(words.CAUTION) == 1


def test_races_that_end_alike_have_no_worst_and_best(course, setups):
    pair = [setups[0], setups[3]]
    twice = make_races_view(races_of(course, pair, names=("Bend 1", "Bend 2"), n_draws=0))
    (told,) = twice.more
    assert told.endswith(" s on each of the two races.")
    assert "worst" not in told
    text = one_line(races_text(twice))
    assert " All " in text
    assert "±" not in text  # without draws nothing stands behind one
    assert "± holds nine in ten" in one_line(races_text(make_races_view(races_of(course, pair))))
    assert races_page(twice, b"").count("The races</") == 1  # once as a heading, in no caption


def test_one_race_alone_is_no_several(course, setups):
    """From Python one may ask for one: it has no sum, no worst and no best."""
    alone = make_races_view(races_of(course, [setups[0], setups[3]]))
    assert alone.sentence.startswith("On Bend, ")
    assert "in all" not in alone.sentence
    assert alone.more == ()
    text = races_text(alone)
    assert "  Bend" in text
    assert "  All" not in text
    for figure in (draw_races(alone), draw_races_narrow(alone)):
        assert "All" not in [t.get_text() for axes in figure.axes for t in axes.texts]
        assert "All" not in [t.get_text() for axes in figure.axes for t in axes.get_yticklabels()]

"""Gates as points, passes that no run uses, and a recording against what was noted."""

from dataclasses import replace

import numpy as np
import pytest

from simulator.errors import InputError, InputErrors
from simulator.fieldtest import infer_day
from simulator.fieldtest.outcome import as_noted
from simulator.fieldtest.questions import ask_about_passes
from simulator.fieldtest.recorded import read_runs
from simulator.fieldtest.testday import load_testday

LAT, LON = 44.6, -35.4
M_PER_DEG = np.pi / 180.0 * 6_371_008.8
TENTH_OF_A_SECOND_S = 0.1
GATES = (
    "first_gate = {{ lat_deg = {a}, lon_deg = -35.4, heading_deg = 0, width_m = {w} }}\n"
    "last_gate = {{ lat_deg = {b}, lon_deg = -35.4, heading_deg = 0, width_m = {w} }}\n"
)


def lat_at(north_m):
    return LAT + north_m / M_PER_DEG


def gates(from_m, to_m, width_m=20):
    return GATES.format(a=lat_at(from_m), b=lat_at(to_m), w=width_m)


def road(keys, *, length_m=1000):
    return f'[[road]]\nname = "lane"\nlength_m = {length_m}\ngrade_pct = 5\n{keys}'


def run(kind="climb", build="Plover", **keys):
    keys = {"recording": '"ride.csv"'} | keys
    return f'[[run]]\nbuild = "{build}"\nkind = "{kind}"\nroad = "lane"\n' + "".join(
        f"{key} = {value}\n" for key, value in keys.items()
    )


@pytest.fixture
def write_ride(folder):
    """``write_ride(places_m, powers_w, east_m=...)``: north along a lane, a sample a second."""

    def write(places_m, powers_w=250.0, east_m=0.0, with_positions=True):
        places = np.asarray(places_m, dtype=float)
        powers = np.broadcast_to(powers_w, places.shape)
        way = np.concatenate(([0.0], np.cumsum(np.abs(np.diff(places)))))
        speeds = np.abs(np.gradient(places))
        lines = ["time_s,distance_m,speed_mps,power_w" + (",lat_deg,lon_deg" * with_positions)]
        lon = LON + east_m / M_PER_DEG / np.cos(np.radians(LAT))
        for i, place in enumerate(places):
            line = f"{i},{way[i]:.3f},{speeds[i]:.3f},{powers[i]:.1f}"
            lines.append(line + f",{lat_at(place):.9f},{lon:.9f}" * with_positions)
        (folder / "ride.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")

    return write


UP = np.arange(0.0, 1500.0, 5.0)
TWICE = np.concatenate((UP, UP[::-1], UP))


def test_gates_as_points_time_a_run_between_them(make_day, write_ride):
    """1,000 m at 5 m/s between two lines given by position: 200 s."""
    write_ride(UP)
    (reading,) = read_runs(make_day(road(gates(202.0, 1202.0)) + run()))
    assert reading.legs[0].times_s[-1] == pytest.approx(200.0, abs=TENTH_OF_A_SECOND_S)
    assert reading.doubts == ()


def test_gate_is_as_wide_as_stated(make_day, write_ride):
    write_ride(UP, east_m=12.0)
    with pytest.raises(InputError, match="0 passes through the gates of lane"):
        read_runs(make_day(road(gates(202.0, 1202.0, width_m=20)) + run()))
    assert read_runs(make_day(road(gates(202.0, 1202.0, width_m=30)) + run()))


def test_gates_as_points_are_crossed_the_other_way_when_ridden_back(make_day, write_ride):
    write_ride(UP[::-1])
    (reading,) = read_runs(make_day(road(gates(202.0, 1202.0)) + run(back="true")))
    assert reading.legs[0].times_s[-1] == pytest.approx(200.0, abs=TENTH_OF_A_SECOND_S)


def test_gates_as_points_lie_on_a_course(folder, write_ride):
    """The nearest place of the course; a gate far off it is refused."""
    track = "".join(
        f'<trkpt lat="{lat_at(x):.8f}" lon="{LON}"><ele>{0.05 * x:.2f}</ele></trkpt>'
        for x in range(0, 1501, 10)
    )
    (folder / "lane.gpx").write_text(
        f'<gpx version="1.1"><trk><trkseg>{track}</trkseg></trk></gpx>', encoding="utf-8"
    )
    write_ride(UP)
    text = 'name = "d"\n[[build]]\nfile = "plover.toml"\n[[road]]\nname = "lane"\n'
    path = folder / "day.toml"
    path.write_text(text + 'course = "lane.gpx"\n' + gates(300.0, 1300.0) + run())
    day = load_testday(path)
    assert day.runs[0].road.length_m == pytest.approx(1000.0, rel=0.01)
    (reading,) = read_runs(day)
    assert reading.legs[0].times_s[-1] == pytest.approx(200.0, abs=TENTH_OF_A_SECOND_S)
    path.write_text(text + 'course = "lane.gpx"\n' + gates(300.0, 1700.0) + run())
    with pytest.raises(InputError, match=r"lane, gate 2: a point 2\d\d m from the course"):
        load_testday(path)


@pytest.mark.parametrize(
    ("keys", "words"),
    [
        ('from_gate = "a"\n', "`from_gate` without a course"),
        (gates(0.0, 1.0).splitlines()[0] + "\n", "one gate"),
    ],
)
def test_half_told_gates_are_refused(make_day, keys, words):
    with pytest.raises((InputError, InputErrors)) as caught:
        make_day(road(keys) + run())
    assert words in str(caught.value)


def test_road_without_a_place_cannot_have_recordings(make_day, write_ride):
    write_ride(UP)
    with pytest.raises(InputError, match="which has no place on the map"):
        read_runs(make_day(road("") + run()))


def test_recording_without_positions_is_told(make_day, write_ride):
    write_ride(UP, with_positions=False)
    with pytest.raises(InputError, match="the recording has no positions"):
        read_runs(make_day(road(gates(202.0, 1202.0)) + run()))


def test_passes_that_no_run_uses_are_listed(make_day, write_ride):
    write_ride(TWICE)
    text = road(gates(202.0, 1202.0))
    (question,) = ask_about_passes(read_runs(make_day(text + run())))
    assert "passes lane 2 times; no run uses pass 2 (3:20.0, 250 W)" in question
    assert ask_about_passes(read_runs(make_day(text + run() + run(pass_number=2)))) == ()
    (question,) = ask_about_passes(read_runs(make_day(text + run() + run() + run(pass_number=2))))
    assert question == "Runs 1 and 2 are the same pass 1 of ride.csv."


def test_meter_without_power_on_a_pedalled_run_is_refused(make_day, write_ride):
    write_ride(UP, powers_w=0.0)
    with pytest.raises(InputError, match="the meter shows no power between the gates"):
        read_runs(make_day(road(gates(202.0, 1202.0)) + run()))


def test_power_on_an_unpedalled_run_is_a_doubt(make_day, write_ride):
    write_ride(UP[::-1], powers_w=40.0)
    text = road(gates(202.0, 1202.0)) + run("roll-down", back="true")
    (reading,) = read_runs(make_day(text))
    assert any("40 W on average though the run was not pedalled" in d for d in reading.doubts)


def test_noted_power_that_the_meter_contradicts_is_a_doubt(make_day, write_ride):
    write_ride(UP)
    text = road(gates(202.0, 1202.0)) + run(power_w=280)
    (reading,) = read_runs(make_day(text))
    assert any("250 W on average, 280 W were noted" in d for d in reading.doubts)
    (leg,) = reading.legs
    assert leg.powers_w == pytest.approx(250.0)


def test_wheel_that_disagrees_with_the_road_is_a_doubt(make_day, write_ride):
    write_ride(UP)
    (reading,) = read_runs(make_day(road(gates(202.0, 1202.0), length_m=1100) + run()))
    assert any("the wheel measured 1.00 km between the gates of a road of 1.10 km" in d
               for d in reading.doubts)  # fmt: skip


def times(*seconds, power_w=250):
    return "".join(
        run(recording=None, time_s=t, power_w=power_w).replace("recording = None\n", "")
        for t in seconds
    )


def test_run_that_no_such_build_can_ride_is_asked_about(make_day):
    """1,000 m of 5 % at 250 W take 189.3 s (closed form 3): 130 s is another's wheel."""
    day = make_day(road("") + times(189.0, 190.0, 188.5, 130.0))
    day = replace(day, wind_sd_mps=3.0)
    outcome = infer_day(day)
    (question,) = [q for q in outcome.questions if "Was it drafted" in q]
    assert "Run 4 Plover, climb, lane took 2:10" in question


def test_drafted_run_shows_in_its_score_though_its_own_wind_could_explain_it(make_day):
    """The fit gives each run its own wind; the score is told with the wind as noted."""
    day = make_day(road("") + times(189.0, 189.4, 189.2, 188.8, 189.1, 189.0, 181.0),
                   head="scatter_pct = 0.2\n[wind]\nsd_kmh = 0.5\n")  # fmt: skip
    outcome = infer_day(day)
    scores = [run.score for run in outcome.runs]
    assert scores[-1] < -3.0
    assert min(scores[:-1]) > -1.0
    assert any("drafted" in text for text in outcome.runs[-1].doubts)
    fitted, score = as_noted(outcome.fit, 6)
    assert (fitted, score) == (outcome.runs[-1].fitted, scores[-1])


def test_gusts_above_the_stated_scatter_are_asked_about(make_day, folder):
    weather = (folder / "weather.toml").read_text(encoding="utf-8")
    (folder / "weather.toml").write_text(
        weather + "wind_kmh = 20\nwind_from_deg = 20\ngust_kmh = 50\n"
    )

    def two(out_s, back_s):
        return "".join(
            f'[[run]]\nbuild = "Plover"\nkind = "flat"\nroad = "lane"\nwind = "one spell"\n'
            f"back = {back}\ntime_s = {t}\npower_w = 250\n"
            for back, t in (("false", out_s), ("true", back_s))
        )

    lane = '[[road]]\nname = "lane"\nlength_m = 1000\n'
    head = "[wind]\nwind_kmh = {}\nwind_from_deg = 20\n"
    windy = infer_day(make_day(lane + two(115.8, 79.0), head=head.format(20)))
    assert any(q.startswith("Gusts of 50 km/h alone scatter") for q in windy.questions)
    # Noted calm: the gust shrinks with the mean, and nothing is asked.
    calm = infer_day(make_day(lane + two(95.0, 93.0), head=head.format(1)))
    assert not any("Gusts" in q for q in calm.questions)

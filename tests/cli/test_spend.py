"""The command `spend`: what it prints and writes, and how it complains."""

import csv
import io
import json
import shutil
from pathlib import Path

import pytest

from simulator.cli import main

ROOT = Path(__file__).parents[2]
COURSE = str(ROOT / "courses" / "steady-climb")
CONFIGS = ROOT / "configs"
BASE = ["--build", str(CONFIGS / "plover.toml"), "--draws", "40"]

PARTS = """\
currency = "shells"
[[slot]]
name = "bar"
now = "round bar"
resale = 5
[[slot]]
name = "chain"
now = "old chain"
[[part]]
name = "<b>Narrow bar</b>"
slot = "bar"
price = 70
labour = 20
cda_change_m2 = { value = -0.004, sd = 0.001 }
note = "=try one"
[[part]]
name = "Waxed chain"
slot = "chain"
price = 60.5
drivetrain_efficiency_change = { value = 0.010, sd = 0.002 }
[[part]]
name = "Rag"
slot = "chain"
price = 0
drivetrain_efficiency_change = { value = 0.003, sd = 0.002 }
"""


@pytest.fixture
def parts(tmp_path):
    path = tmp_path / "parts.toml"
    path.write_text(PARTS, encoding="utf-8")
    return str(path)


def run(capsys, *words):
    with pytest.raises(SystemExit) as left:
        main.run(["spend", *words])
    out = capsys.readouterr()
    assert "Traceback" not in out.err
    return left.value.code, out.out, out.err


def test_prints_a_plan(capsys, parts):
    code, text, err = run(
        capsys, *BASE, "--parts", parts, "--course", COURSE, "--budget", "100", "--budget", "200",
        "--target", str(CONFIGS / "gannet.toml"),
    )  # fmt: skip
    assert (code, err) == (0, "")
    assert "3 parts for 2 slots, 6 sets ridden, 1 race" in text
    assert "Shopping list for 200 shells" in text
    assert "For 200 shells, Plover gains" in " ".join(text.split())
    assert "of the gap to Gannet" in " ".join(text.split())
    assert "What a catalogue cannot know" in text
    assert "never advice" in text
    assert all(len(line) <= 80 for line in text.splitlines())


def test_quiet_is_one_sentence(capsys, parts):
    code, text, _ = run(
        capsys, *BASE, "--parts", parts, "--course", COURSE, "--budget", "200", "--quiet"
    )
    assert code == 0
    assert text.startswith("For 200 shells, Plover gains")
    assert text.count("\n") <= 2


def test_json_answers_and_adds_up(capsys, parts):
    _, text, _ = run(capsys, *BASE, "--parts", parts, "--course", COURSE, "--budget", "100",
                     "--json")  # fmt: skip
    document = json.loads(text)
    assert (document["schema"], document["version"]) == ("buildgap/spend", 1)
    data = document["data"]
    assert set(data["about"]) == set(data) - {"about"}
    free, paid = data["budgets"]
    assert [free["budget"], paid["budget"]] == [0.0, 100.0]
    assert [buy["name"] for buy in free["buys"]] == ["Rag"]
    assert sum(buy["net"] for buy in paid["buys"]) == pytest.approx(paid["price"])
    assert paid["price"] <= 100.0
    assert paid["gain"]["low_s"] < paid["gain"]["gain_s"] < paid["gain"]["high_s"]
    assert paid["rival"]["lead"]["gain_s"] >= 0.0
    assert paid["next_buy"] == "Waxed chain"


def test_writes_page_picture_list_and_json(capsys, parts, tmp_path):
    out = tmp_path / "out"
    words = [*BASE, "--parts", parts, "--course", COURSE, "--budget", "200", "--out", str(out)]
    code, text, _ = run(capsys, *words)
    assert code == 0
    assert str(out / "index.html") in text
    names = {path.name for path in out.iterdir()}
    assert names == {"index.html", "frontier.png", "frontier.svg", "shopping.csv", "spend.json"}
    page = (out / "index.html").read_text(encoding="utf-8")
    assert "<b>Narrow" not in page
    assert "&lt;b&gt;Narrow bar&lt;/b&gt;" in page
    assert "http://" not in page.replace("http://www.w3.org", "")
    assert "https://" not in page
    rows = list(csv.DictReader(io.StringIO((out / "shopping.csv").read_text(encoding="utf-8"))))
    bar = next(row for row in rows if row["part"] == "<b>Narrow bar</b>")
    assert (bar["price"], bar["labour"], bar["resale"], bar["costs"]) == (
        "70.0",
        "20.0",
        "5.0",
        "85.0",
    )
    assert bar["mind"] == "'=try one"
    assert (out / "frontier.png").read_bytes().startswith(b"\x89PNG")
    code, _, err = run(capsys, *words)
    assert code == 2
    assert "index.html" in err
    assert run(capsys, *words, "--overwrite")[0] == 0


def test_plan_with_weights(capsys, parts, tmp_path):
    plan = tmp_path / "spend.toml"
    shutil.copytree(COURSE, tmp_path / "climb")
    shutil.copy(CONFIGS / "weather.toml", tmp_path)
    plan.write_text(
        'budgets = [50, 150]\n[[race]]\ncourse = "climb"\nweight = 3\nweather = "weather.toml"\n'
        '[[race]]\ncourse = "climb"\npower_w = 200\n',
        encoding="utf-8",
    )
    code, text, _ = run(capsys, *BASE, "--parts", parts, "--plan", str(plan), "--json")
    assert code == 0
    data = json.loads(text)["data"]
    assert [race["weight"] for race in data["races"]] == [0.75, 0.25]
    assert data["races"][0]["name"] != data["races"][1]["name"]
    assert "200 W" in data["races"][1]["pacing"]
    for budget in data["budgets"]:
        first, second = budget["race_gains_s"]
        assert budget["gain"]["gain_s"] == pytest.approx(0.75 * first + 0.25 * second)
    assert [b["budget"] for b in data["budgets"]] == [0.0, 50.0, 150.0]


def test_nothing_helps_by_more_than_its_doubt(capsys, parts):
    vague = (
        Path(parts)
        .read_text()
        .replace("sd = 0.001", "sd = 0.02")
        .replace("sd = 0.002", "sd = 0.02")
    )
    Path(parts).write_text(vague)
    words = [*BASE, "--parts", parts, "--course", COURSE, "--budget", "100", "--quiet"]
    _, text, _ = run(capsys, *words)
    assert "by more than its doubt" in " ".join(text.split())
    assert "Keep the money." in " ".join(text.split())


def test_without_draws_no_doubt_is_claimed(capsys, parts):
    code, text, _ = run(
        capsys, "--build", str(CONFIGS / "plover.toml"), "--draws", "0", "--parts", parts,
        "--course", COURSE, "--budget", "100",
    )  # fmt: skip
    assert code == 0
    assert "±" not in text.partition("For 100 shells")[2].partition(".")[0]
    assert "No draws were made" in text


@pytest.mark.parametrize(
    ("words", "complaint"),
    [
        ([], "--course: the option was not given"),
        (["--course", COURSE], "--budget: the option was not given"),
        (["--course", COURSE, "--plan", str(CONFIGS / "spend.toml")],
         "--course: the option stands beside `--plan`"),
        (["--course", "nowhere.gpx", "--budget", "1"], "nowhere.gpx"),
        (["--course", COURSE, "--budget", "-1"], "-1"),
        (["--course", COURSE, "--budget", "nan"], "nan"),
    ],
)  # fmt: skip
def test_wrong_use(capsys, parts, words, complaint):
    code, _, err = run(capsys, *BASE, "--parts", parts, *words)
    assert code == 2
    assert complaint in err


def test_catalogue_that_makes_no_sense_together(capsys, parts):
    text = Path(parts).read_text().replace("value = 0.010", "value = 0.19")
    Path(parts).write_text(text)
    code, _, err = run(capsys, *BASE, "--parts", parts, "--course", COURSE, "--budget", "100")
    assert code == 2
    assert "Waxed chain" in err
    assert "drivetrain_efficiency" in err


@pytest.mark.parametrize(
    ("old", "new", "complaint"),
    [
        ("price = 70", "price = -70", "line 12, key `part[1].price`: found -70"),
        ("price = 70", 'price = "dear"', 'found the text "dear"'),
        ('slot = "bar"', 'slot = "bra"', "there is no slot bra; expected the name of a [[slot]]"),
        ("labour = 20", 'needs = ["x"]\nexcludes = ["x"]', "the part needs what it excludes"),
        ("labour = 20", 'needs = ["x"]', "nothing provides “x”"),
    ],
)
def test_wrong_catalogues(capsys, parts, old, new, complaint):
    text = Path(parts).read_text()
    Path(parts).write_text(text.replace(old, new, 1))
    words = ["--parts", parts, "--course", COURSE, "--budget", "100"]
    code, out, err = run(capsys, *BASE, *words)
    assert (code, out) == (2, "")
    assert complaint in err


@pytest.mark.parametrize("text", ["", "currency = 'shells'\n", "[[slot]\n", "\x00\x01"])
def test_no_catalogue_at_all(capsys, tmp_path, text):
    path = tmp_path / "empty.toml"
    path.write_text(text, encoding="utf-8")
    code, _, err = run(capsys, *BASE, "--parts", str(path), "--course", COURSE, "--budget", "100")
    assert code == 2
    assert "empty.toml" in err


def test_budgets_in_any_order_and_twice(capsys, parts):
    words = [*BASE, "--parts", parts, "--course", COURSE, "--json"]
    some = [x for budget in ("200", "50", "200.00", "0") for x in ("--budget", budget)]
    _, text, _ = run(capsys, *words, *some)
    assert [b["budget"] for b in json.loads(text)["data"]["budgets"]] == [0.0, 50.0, 200.0]


def test_nothing_to_spend(capsys, parts):
    words = [*BASE, "--parts", parts, "--course", COURSE, "--budget", "0"]
    code, text, _ = run(capsys, *words)
    assert code == 0
    assert "What to do for free" in text
    assert "  Rag " in text.partition("What to do for free")[2]
    assert "In no set" not in text


def test_part_that_fits_nothing_is_named(capsys, parts):
    text = Path(parts).read_text()
    for old, new in (
        ("labour = 20", 'excludes = ["steel"]'),
        ('now = "old chain"', 'now = "old"\nprovides = ["steel"]'),
        ("price = 60.5", 'price = 60.5\nprovides = ["steel"]'),
        ("price = 0\n", 'price = 0\nprovides = ["steel"]\n'),
    ):
        text = text.replace(old, new)
    Path(parts).write_text(text)
    words = [*BASE, "--parts", parts, "--course", COURSE, "--budget", "100"]
    _, text, _ = run(capsys, *words)
    said = " ".join(text.split())
    assert "parts that cost too much: <b>Narrow bar</b>." in said
    assert "not with “steel”" in said


def test_interrupted_ride_leaves_no_file(capsys, parts, tmp_path, monkeypatch):
    from simulator.spend import sweep

    def interrupt(*_, **__):
        raise KeyboardInterrupt

    monkeypatch.setattr(sweep, "with_sets", interrupt)
    out = tmp_path / "out"
    words = ["--parts", parts, "--course", COURSE, "--budget", "100", "--out", str(out)]
    code, text, err = run(capsys, *BASE, *words)
    assert (code, text) == (130, "")
    assert "interrupted" in err
    assert not out.exists()


def test_interrupted_writing_leaves_whole_files_only(capsys, parts, tmp_path, monkeypatch):
    import os

    replace, n_written = os.replace, 0

    def some(*names):
        nonlocal n_written
        n_written += 1
        if n_written == 3:
            raise KeyboardInterrupt
        replace(*names)

    monkeypatch.setattr(os, "replace", some)
    out = tmp_path / "out"
    words = ["--parts", parts, "--course", COURSE, "--budget", "100", "--out", str(out)]
    code, _, _ = run(capsys, *BASE, *words)
    assert code == 130
    left = {path.name: path.read_bytes() for path in out.iterdir()}
    assert len(left) == 2
    monkeypatch.setattr(os, "replace", replace)
    assert run(capsys, *BASE, *words, "--overwrite")[0] == 0
    # What was there after the interruption is what a whole run writes.
    assert all((out / name).read_bytes() == data for name, data in left.items())
    assert not [path for path in out.iterdir() if path.suffix == ".tmp"]


@pytest.mark.parametrize(("is_terminal", "more"), [(True, []), (False, []), (True, ["--json"])])
def test_bar_for_those_who_look_on(capsys, parts, monkeypatch, is_terminal, more):
    import sys

    monkeypatch.setattr(sys.stderr, "isatty", lambda: is_terminal, raising=False)
    words = ["--parts", parts, "--course", COURSE, "--budget", "100", *more]
    code, text, err = run(capsys, *BASE, *words)
    assert code == 0
    assert "Riding every set" not in text
    assert ("Riding every set" in err) == (is_terminal and not more)
    assert bool(err) == (is_terminal and not more)


def test_headwind_that_stops_the_rider(capsys, parts, tmp_path):
    gale = tmp_path / "gale.toml"
    gale.write_text("wind_kmh = 118\nwind_from_deg = 270\n", encoding="utf-8")
    code, _, err = run(
        capsys, *BASE, "--parts", parts, "--budget", "100", "--weather", str(gale), "--power", "60",
        "--course", str(ROOT / "courses" / "windy-out-and-back"),
    )  # fmt: skip
    assert code == 3
    assert "cannot pass km" in err


@pytest.mark.parametrize(
    ("old", "new", "complaint"),
    [
        ("weight = 2", "weight = 0", "found 0; expected a number above 0"),
        ("budgets = ", "budget = ", "did you mean `budgets`"),
        ("weight = 2", "wieght = 2", "did you mean `weight`"),
        ("[500, 1000, 1500, 2500]", "[500, -1]", "found -1; expected a number from 0 to"),
        ("[500, 1000, 1500, 2500]", "[]", "found an empty list"),
    ],
)
def test_wrong_plans(capsys, parts, tmp_path, old, new, complaint):
    plan = tmp_path / "spend.toml"
    text = (CONFIGS / "spend.toml").read_text(encoding="utf-8")
    assert old in text
    plan.write_text(text.replace(old, new, 1), encoding="utf-8")
    code, _, err = run(capsys, *BASE, "--parts", parts, "--plan", str(plan))
    assert code == 2
    assert "line " in err
    assert complaint in err

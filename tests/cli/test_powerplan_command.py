"""`buildgap powerplan`: what it prints, writes and refuses."""

import json
import re

import pytest
from click.testing import CliRunner

from simulator.cli import main
from simulator.starters import starter_path

STEADY = starter_path("courses/steady-climb")
FILES = [
    "--course", str(STEADY),
    "--build", str(starter_path("configs/plover.toml")),
    "--rider", str(starter_path("configs/rider.toml")),
]  # fmt: skip


def run(*arguments):
    return CliRunner().invoke(main.group, ["powerplan", *arguments])


@pytest.fixture(scope="module")
def solved(tmp_path_factory):
    out = tmp_path_factory.mktemp("plan") / "out"
    weather = out.with_name("east.toml")
    weather.write_text('name = "Easterly"\nwind_kmh = 12\nwind_from_deg = 90\n', encoding="utf-8")
    result = run(
        "solve", *FILES, "--weather", str(starter_path("configs/weather.toml")),
        "--weather", str(weather), "--changes", "4", "--out", str(out),
    )  # fmt: skip
    return result, out


def test_the_plan_is_told_and_written(solved):
    result, out = solved
    assert result.exit_code == 0, result.output
    assert "against the best constant power" in result.output
    assert "see a doctor" in result.output.replace("\n", " ")
    assert "never advice" in result.output
    assert all(len(line) <= 80 for line in result.output.splitlines() if str(out) not in line)
    names = {path.name for path in out.iterdir()}
    cards = {f"card-{s}.{k}" for s in ("stem", "pocket", "page") for k in ("png", "pdf")}
    assert names == cards | {
        "card.html", "index.html", "plan.png", "plan.svg", "plan.toml", "plan.json",
    }  # fmt: skip


def test_json_holds_the_same_plan(solved):
    _, out = solved
    written = json.loads((out / "plan.json").read_text(encoding="utf-8"))
    assert written["schema"] == "buildgap/powerplan"
    data = written["data"]
    assert len(data["days"]) == 2
    assert data["plan_s"] == pytest.approx(sum(row["time_s"] for row in data["rows"]))
    first = data["days"][0]
    assert first["quickest_s"] <= first["plan_s"] <= first["constant_s"] + 0.5
    assert first["first_plan_s"] == first["plan_s"]
    assert data["days"][1]["first_plan_s"] != data["days"][1]["plan_s"]


def test_compare_rides_the_plan(solved):
    _, out = solved
    told = json.loads((out / "plan.json").read_text(encoding="utf-8"))["data"]["plan_s"]
    tried = run(
        "try", *FILES, "--weather", str(starter_path("configs/weather.toml")),
        "--pacing", str(out / "plan.toml"), "--json",
    )  # fmt: skip
    assert tried.exit_code == 0, tried.output
    rows = json.loads(tried.output)["data"]["rows"]
    assert rows[0]["time_s"] == pytest.approx(told, abs=0.02)
    assert rows[0]["can_be_done"] is True
    assert rows[1]["name"].startswith("Constant ")


def test_cards_are_of_their_size(solved):
    from matplotlib.image import imread

    _, out = solved
    for size, (width_mm, height_mm) in {"stem": (60, 120), "pocket": (74, 105)}.items():
        height, width = imread(out / f"card-{size}.png").shape[:2]
        assert width == pytest.approx(width_mm / 25.4 * 300, abs=1)
        assert height == pytest.approx(height_mm / 25.4 * 300, abs=1)
    box = re.search(rb"/MediaBox \[ 0 0 ([\d.]+) ([\d.]+) \]", (out / "card-stem.pdf").read_bytes())
    assert float(box[1]) == pytest.approx(60 / 25.4 * 72, abs=0.1)
    assert float(box[2]) == pytest.approx(120 / 25.4 * 72, abs=0.1)


def test_phone_page_is_self_contained_and_escapes(solved):
    _, out = solved
    page = (out / "card.html").read_text(encoding="utf-8")
    assert "http" not in page.replace("http-equiv", "")
    assert "<script" not in page
    assert page.count("<tr>") >= 3


def test_results_are_not_overwritten_unasked(solved):
    _, out = solved
    before = (out / "plan.toml").read_bytes()
    result = run("solve", *FILES, "--out", str(out))
    assert result.exit_code != 0
    assert "exists already" in str(result.exception)
    assert (out / "plan.toml").read_bytes() == before


def test_try_sets_side_by_side():
    result = run(
        "try", *FILES, "--pacing", str(starter_path("configs/pacing.toml")),
        "--pacing", str(starter_path("configs/pacing/even-reserve.toml")),
    )  # fmt: skip
    assert result.exit_code == 0, result.output
    assert "Can be done" in result.output
    assert "weak day" in result.output
    assert "W′ on the climbs" in result.output


def test_two_budgets_are_refused():
    result = run("solve", *FILES, "--mean", "200", "--fourth-power-mean", "220")
    assert result.exit_code != 0
    assert "one of them" in str(result.exception)


def test_a_rider_without_critical_power_is_told_what_to_add(tmp_path):
    rider = tmp_path / "rider.toml"
    rider.write_text('name = "Nobody"\n', encoding="utf-8")
    result = run("solve", *FILES[:4], "--rider", str(rider))
    remedy = "plan for a mean that weighs hard efforts, with `--fourth-power-mean`"
    assert f"add them, or {remedy}" in str(result.exception)


def test_subcommands_have_help():
    for name in ("try", "solve", "card"):
        result = run(name, "--help")
        assert result.exit_code == 0
        assert "--course" in result.output


@pytest.mark.parametrize("is_quiet", [False, True])
def test_a_plan_for_a_plain_mean_says_that_it_limits_no_hard_effort(tmp_path, is_quiet):
    rider = tmp_path / "rider.toml"
    rider.write_text('name = "Nobody"\n', encoding="utf-8")
    files = [*FILES[:4], "--rider", str(rider), "--changes", "2"]
    quiet = ["--quiet"] if is_quiet else []
    told = " ".join(run("solve", *files, "--mean", "230", *quiet).output.split())
    assert "on paper: a plain mean puts no price on hard efforts" in told
    assert ("Take it for a bound" in told) is not is_quiet
    assert ("--fourth-power-mean, which weighs hard efforts, and --most" in told) is not is_quiet
    weighed = run("solve", *files, "--fourth-power-mean", "240").output
    assert "on paper" not in weighed
    assert "for a bound" not in weighed


def test_a_card_for_a_plain_mean_says_so_in_the_terminal(tmp_path):
    out = tmp_path / "card"
    told = run("card", *FILES, "--mean", "230", "--changes", "2", "--out", str(out)).output
    assert "puts no price on hard efforts" in " ".join(told.split())
    assert "hard efforts are not limited" in (out / "card.html").read_text(encoding="utf-8")

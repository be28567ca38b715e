"""`buildgap fieldtest` as people call it: output, files, refusals, builds ready for compare."""

import json
import re
import shutil
import tomllib
from pathlib import Path

import pytest
from click.testing import CliRunner

from simulator.cli import main
from simulator.setup import BuildFile, load_build

ROOT = Path(__file__).parents[2]
EXAMPLES = ROOT / "configs" / "fieldtest"
FILES = {"index.html", "fieldtest.png", "fieldtest.svg", "fieldtest.json"}
CAUTION_WORDS = {
    "infer": "Roll-downs only where nobody else is",
    "verdict": "A closed road is better",
    "runs": "Roll-downs only where nobody else is",
}
EXAMPLE_OF = {"infer": "testday.toml", "verdict": "two-climbs.toml", "runs": "runs.toml"}
SMALL = """
name = "small"
rider = "rider.toml"
weather = "weather.toml"
[[build]]
file = "gannet.toml"
[[build]]
file = "plover.toml"
[[road]]
name = "hill"
length_m = 800
grade_pct = 6
"""


def call(*arguments, code=0):
    result = CliRunner().invoke(main.group, ["fieldtest", *map(str, arguments)])
    if code == 0 and result.exception is not None:
        raise result.exception
    return result


@pytest.fixture(scope="module")
def small(tmp_path_factory):
    """A small test day, and a folder with what `infer` made of it."""
    folder = tmp_path_factory.mktemp("day")
    for name in ("rider.toml", "weather.toml", "gannet.toml", "plover.toml"):
        shutil.copy(ROOT / "configs" / name, folder / name)
    text = SMALL
    for name, time_s in zip(("Gannet", "Plover", "Plover", "Gannet"), (172, 178, 179, 171),
                            strict=True):  # fmt: skip
        text += f'[[run]]\nbuild = "{name}"\nkind = "climb"\nroad = "hill"\n'
        text += f"time_s = {time_s}\npower_w = 250\n"
    path = folder / "day.toml"
    path.write_text(text, encoding="utf-8")
    output = call("infer", path, "--out", folder / "out").output
    return path, folder / "out", output


def test_infer_tells_table_sentence_and_cautions(small):
    _, _, output = small
    assert re.search(r"Plover has \d\.\d{3} ± \d\.\d{3} m² (more|less) CdA", output)
    assert CAUTION_WORDS["infer"] in output
    assert "No run was unpowered" in output
    assert "These runs hardly tell the CdA of Plover" in output
    assert max(len(line) for line in output.splitlines() if "wrote" not in line) <= 80


def test_infer_writes_page_pictures_json_and_builds(small):
    _, out, _ = small
    assert {path.name for path in out.iterdir()} == FILES | {"gannet.toml", "plover.toml"}
    found = json.loads((out / "fieldtest.json").read_text(encoding="utf-8"))
    assert found["schema"] == "buildgap/fieldtest-infer"
    figures = found["data"]["figures"]
    builds = {b["name"]: b for b in figures["builds"]}
    assert set(found["data"]) == {"about", *found["data"]["about"]}
    assert len(figures["runs"]) == 4
    n = len(figures["unknowns"])
    assert [len(row) for row in figures["covariance"]] == [n] * n
    for name in ("Gannet", "Plover"):
        build = load_build(out / f"{name.lower()}.toml")
        assert build.name == name
        # Four climbs of one speed tell neither figure alone: the file's own ones were kept.
        assert builds[name]["hardly_told"] == ["CdA", "Crr"]
        assert "field test small (2 runs" in build.source
        # All else is as it was.
        before = load_build(ROOT / "configs" / f"{name.lower()}.toml")
        for field in ("mass_kg", "wheel_inertia_kgm2", "chainrings", "sprockets", "yaw_degs",
                      "cda_m2", "crr", "grip_wet", "price", "drivetrain_efficiency"):  # fmt: skip
            assert getattr(build, field) == getattr(before, field), field
        assert build.cda_factors == pytest.approx(before.cda_factors, rel=1e-6)
        written = tomllib.loads((out / f"{name.lower()}.toml").read_text(encoding="utf-8"))
        BuildFile.model_validate(written, strict=False)


def test_inferred_builds_are_ready_for_compare(small):
    _, out, _ = small
    course = ROOT / "courses" / "steady-climb"
    result = CliRunner().invoke(
        main.group,
        ["compare", "--course", str(course), "--build", str(out / "gannet.toml"), "--build",
         str(out / "plover.toml"), "--draws", "200", "--quiet"],
    )  # fmt: skip
    assert result.exit_code == 0, result.exception or result.output
    assert "Plover" in result.output


def test_page_stands_alone_and_carries_the_cautions(small):
    _, out, _ = small
    page = (out / "index.html").read_text(encoding="utf-8")
    assert CAUTION_WORDS["infer"] in page
    assert "A predicted speed is never advice to ride it" in page
    links = re.findall(r'(?:src|href)="([^"]+)"', page)
    assert all(link.startswith(("#", "data:")) for link in links)
    assert "default-src 'none'" in page
    assert len(page) < 400_000


def test_nothing_is_replaced_unasked(small):
    path, out, _ = small
    before = (out / "gannet.toml").read_bytes()
    result = call("infer", path, "--out", out, code=2)
    assert "the file exists already" in str(result.exception)
    assert (out / "gannet.toml").read_bytes() == before


def test_example_day_gives_builds_with_its_figures(tmp_path):
    out = tmp_path / "out"
    output = call("infer", EXAMPLES / EXAMPLE_OF["infer"], "--out", out).output
    found = json.loads((out / "fieldtest.json").read_text(encoding="utf-8"))
    for figures in found["data"]["figures"]["builds"]:
        build = load_build(out / f"{figures['name'].lower()}.toml")
        for key, digits in (("cda_m2", 1e-5), ("crr", 1e-6)):
            written = getattr(build, key)
            assert written.value == pytest.approx(figures[key]["value"], abs=digits)
            assert written.sd == pytest.approx(figures[key]["sd"], abs=digits)
        assert "field test Gull Moor test day (12 runs" in build.source
    # The times were made with CdA 0.322 and 0.303, Crr 0.0048 and 0.0037.
    truth = {"Plover": (0.322, 0.0048), "Gannet": (0.303, 0.0037)}
    for figures in found["data"]["figures"]["builds"]:
        for key, true in zip(("cda_m2", "crr"), truth[figures["name"]], strict=True):
            assert abs(figures[key]["value"] - true) < 3.0 * figures[key]["sd"]
    assert "No run was unpowered" not in output


@pytest.mark.parametrize("name", ["verdict", "runs"])
def test_verdict_and_runs_on_their_examples(tmp_path, name):
    out = tmp_path / "out"
    output = call(name, EXAMPLES / EXAMPLE_OF[name], "--out", out).output
    assert {path.name for path in out.iterdir()} == FILES
    found = json.loads((out / "fieldtest.json").read_text(encoding="utf-8"))
    assert found["schema"] == f"buildgap/fieldtest-{name}"
    assert CAUTION_WORDS[name] in " ".join(output.split())
    assert found["data"]["sentence"] in " ".join(output.split())
    assert max(len(line) for line in output.splitlines() if "wrote" not in line) <= 80
    assert (out / "fieldtest.png").read_bytes().startswith(b"\x89PNG")


def test_quiet_is_the_sentence_and_json_is_json():
    example = EXAMPLES / EXAMPLE_OF["verdict"]
    sentence = " ".join(call("verdict", example, "--quiet").output.split())
    found = json.loads(call("verdict", example, "--json").output)
    assert found["data"]["sentence"] == sentence
    assert sentence.startswith("Plover's +9.8 s on Steep Lane is ")


def test_help_of_each_has_an_example():
    for name in EXAMPLE_OF:
        text = call(name, "--help").output
        assert f"buildgap fieldtest {name}" in text.partition("Example")[2]


@pytest.mark.parametrize("name", EXAMPLE_OF)
def test_missing_file_is_told(tmp_path, name):
    result = call(name, tmp_path / "none.toml", code=2)
    assert "there is no such file" in str(result.exception)

"""What goes wrong with field tests: one clear sentence each, the right exit, nothing written."""

import shutil
from pathlib import Path

import pytest

from simulator.cli import main as program

ROOT = Path(__file__).parents[2]
EXAMPLES = ROOT / "configs" / "fieldtest"
EXAMPLE_OF = {"infer": "testday.toml", "verdict": "two-climbs.toml", "runs": "runs.toml"}


def main(words):
    """Exit code of a call."""
    with pytest.raises(SystemExit) as left:
        program.run(words)
    return left.value.code


RUN = '[[run]]\nbuild = "Gannet"\nkind = "climb"\nroad = "Gull climb"\n'


@pytest.fixture
def work(tmp_path):
    """A folder as `buildgap new` lays it out."""
    shutil.copytree(ROOT / "configs", tmp_path / "configs")
    shutil.copytree(ROOT / "courses", tmp_path / "courses")
    return tmp_path / "configs" / "fieldtest"


@pytest.fixture
def refused(capsys, tmp_path):
    """``refused(command, path, code=2)``: the sentences told; asserts that nothing was written."""

    def call(command, path, code=2):
        out = tmp_path / "out"
        found = main(["fieldtest", command, str(path), "--out", str(out)])
        told = capsys.readouterr()
        assert found == code, told.err or told.out
        assert not out.exists()
        assert "Traceback" not in told.err
        lines = told.err.strip().splitlines()
        assert all(line.startswith("buildgap: ") for line in lines)
        return lines

    return call


def day(folder, run):
    """The example's head with other runs."""
    text = (EXAMPLES / "testday.toml").read_text(encoding="utf-8")
    path = folder / "day.toml"
    path.write_text(text[: text.index("# Runs in the order")] + run, encoding="utf-8")
    return path


@pytest.mark.parametrize("command", EXAMPLE_OF)
def test_file_of_another_command_is_told_in_one_sentence(refused, command):
    for other, name in EXAMPLE_OF.items():
        if other != command:
            (line,) = refused(command, EXAMPLES / name)
            assert f"`buildgap fieldtest {other}` reads it" in line
    (line,) = refused(command, ROOT / "configs" / "gannet.toml")
    assert "a file of another kind" in line
    assert line.endswith("; `buildgap new FOLDER --for fieldtest` writes an example.")


@pytest.mark.parametrize("command", EXAMPLE_OF)
@pytest.mark.parametrize(
    ("content", "words"),
    [(b"", "the file is empty"), (b"\x00\xff", "not text"), (b"name = ", "line 1")],
)
def test_broken_file_is_told_in_one_sentence(refused, tmp_path, command, content, words):
    path = tmp_path / "x.toml"
    path.write_bytes(content)
    (line,) = refused(command, path)
    assert words in line


@pytest.mark.parametrize(
    ("run", "words"),
    [
        (RUN + "time_s = 600\npower_w = 0\n", "0 W on a pedalled run"),
        (RUN + "time_s = -5\npower_w = 260\n", "key `run[1].time_s`: found -5"),
        (RUN + 'recording = "none.fit"\n', "none.fit: there is no such file"),
        (RUN + 'recording = "empty.csv"\n', "empty.csv: the file is empty"),
        (RUN + 'recording = "words.csv"\n', "no column `time_s` or `time`"),
        (RUN + 'recording = "indoors.csv"\n', "the recording has no positions"),
        (RUN.replace("Gull climb", "Moor flat") + 'recording = "indoors.csv"\n',
         "which has no place on the map"),
    ],
)  # fmt: skip
def test_wrong_runs_are_told_in_one_sentence(refused, work, run, words):
    (work / "empty.csv").write_text("")
    (work / "words.csv").write_text("hello\n")
    (work / "indoors.csv").write_text(
        "time_s,speed_mps,power_w\n" + "".join(f"{i},8.0,200\n" for i in range(60))
    )
    (line,) = refused("infer", day(work, run))
    assert words in line


def test_time_of_another_road_names_its_run(refused, work):
    path = day(work, RUN + "time_s = 5\npower_w = 260\n")
    (line,) = refused("infer", path, code=3)
    assert "furthest off is run 1 Gannet, climb, Gull climb" in line


def test_one_run_alone_is_answered_with_what_is_missing(work, capsys):
    path = day(work, RUN + "time_s = 600\npower_w = 260\n")
    assert main(["fieldtest", "infer", str(path)]) == 0
    told = capsys.readouterr().out
    told = " ".join(told.split())
    assert "These runs say hardly more about Gannet's CdA" in told
    assert "Add unpowered runs of known mass (roll-downs, coasting)" in told
    assert "not told" in told


def test_head_wind_is_ridden_not_refused(work, capsys):
    """40 km/h noted against the rider: the run is fitted with it, no figure becomes absurd."""
    run = RUN.replace("climb", "flat").replace("Gull flat", "Moor flat")
    wind = "wind_kmh = 40\nwind_from_deg = 90\n"
    path = day(work, run + "time_s = 420\npower_w = 240\n" + wind)
    assert main(["fieldtest", "infer", str(path)]) == 0
    assert "nan" not in capsys.readouterr().out


@pytest.mark.parametrize(
    ("change", "code", "words"),
    [
        (("power_w = 250\n# other", "power_w = 0\n# other"), 2, "found 0"),
        (("first_times_s = [299.1]", "first_times_s = []"), 2, "an empty list"),
        (("grade_pct = 8.5", "grade_pct = 28"), 3, "comes to a halt"),
    ],
)
def test_wrong_verdicts_are_told_in_one_sentence(refused, work, change, code, words):
    path = work / "two-climbs.toml"
    text = path.read_text(encoding="utf-8").replace(*change)
    if code == 3:
        text = text.replace("power_w = 250\nfirst", "power_w = 20\nfirst")
    path.write_text(text, encoding="utf-8")
    (line,) = refused("verdict", path, code=code)
    assert words in line


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (("power_w = 200\n", ""), "`power_w` is missing"),
        (("power_w = 200\n", "power_w = 0\n"), "found 0"),
        (("power_w = 260", "power_w = 20"), "does not reach the last gate"),
        (("flat both ways at 320 W", "flat both ways at 200 W"), "two kinds of run of one name"),
    ],
)
def test_wrong_plans_are_told_in_one_sentence(refused, work, change, words):
    path = work / "runs.toml"
    path.write_text(path.read_text(encoding="utf-8").replace(*change), encoding="utf-8")
    (line,) = refused("runs", path)
    assert words in line


def test_equal_builds_have_nothing_to_tell_apart(work, capsys):
    path = work / "runs.toml"
    text = path.read_text(encoding="utf-8").replace("../plover.toml", "../gannet.toml")
    path.write_text(text, encoding="utf-8")
    assert main(["fieldtest", "runs", str(path), "--quiet"]) == 0
    assert "have the same CdA and Crr" in " ".join(capsys.readouterr().out.split())

"""Options that commands share: what they take, what they refuse, what they pass on."""

import shutil
import subprocess
from pathlib import Path

import click
import pytest
from click.testing import CliRunner

from simulator.cli import shared


@click.command()
@shared.course_option()
@shared.build_option
@shared.rider_option
@shared.weather_option
@shared.laps_option
@shared.power_option
@shared.tiles_option
@shared.out_option("out/x")
@shared.overwrite_option
@shared.quiet_option
@shared.json_option
def show(**options):
    for name, value in sorted(options.items()):
        click.echo(f"{name} = {value!r}")


NEEDED = ["--course", "race.gpx", "--build", "a.toml"]


def test_what_is_passed_on():
    result = CliRunner().invoke(
        show, [*NEEDED, "--build", "b.toml", "--laps", "3", "--power", "250.5", "-q", "--json"]
    )
    assert result.exit_code == 0
    paths = tuple(Path(name) for name in ("a.toml", "b.toml"))
    assert result.output.splitlines() == [
        "as_json = True",
        f"build_paths = {paths!r}",
        f"course_path = {Path('race.gpx')!r}",
        "laps = 3",
        f"out_path = {Path('out/x')!r}",
        "overwrite = False",
        "power_w = 250.5",
        "quiet = True",
        "rider_path = None",
        "tiles_path = None",
        "weather_path = None",
    ]


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--power", "nan"], "not a number that can be used"),
        (["--power", "inf"], "not in the range"),
        (["--power", "5"], "not in the range"),
        (["--power", "250W"], "not a valid float"),
        (["--laps", "0"], "not in the range"),
        (["--laps", "1.5"], "not a valid int"),
        (["--lap"], "No such option"),
    ],
)
def test_what_is_refused(arguments, words):
    result = CliRunner().invoke(show, [*NEEDED, *arguments])
    assert result.exit_code == 2
    assert words in result.output


@pytest.mark.parametrize("missing", ["--course", "--build"])
def test_what_must_be_given(missing):
    at = NEEDED.index(missing)
    result = CliRunner().invoke(show, NEEDED[:at] + NEEDED[at + 2 :])
    assert result.exit_code == 2
    assert f"Missing option '{missing}'" in result.output


def test_nothing_that_steers_a_terminal_is_printed(capsys):
    shared.say("a\x1b[31mb\n\tc\u202ed W′ µ…")
    assert capsys.readouterr().out == "a?[31mb\n?c?d W′ µ…\n"


def test_completion_for_a_shell_is_offered():
    from simulator.cli.main import group

    result = CliRunner().invoke(
        group, [], env={"_BUILDGAP_COMPLETE": "bash_source"}, prog_name="buildgap"
    )
    assert result.exit_code == 0
    assert "complete" in result.output


def complete(shell, words, **more):
    """What the shell is offered for the last of some words."""
    from simulator.cli.main import group

    line = " ".join(words)
    asked = {"COMP_WORDS": line, "COMP_CWORD": words[-1] if shell == "fish" else len(words) - 1}
    env = {"_BUILDGAP_COMPLETE": f"{shell}_complete", **{k: str(v) for k, v in asked.items()}}
    result = CliRunner().invoke(group, [], env={**env, **more}, prog_name="buildgap")
    assert result.exit_code == 0
    return result.output


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
@pytest.mark.parametrize(
    ("words", "offered"),
    [
        (["buildgap", "comp"], "compare"),
        (["buildgap", "fieldtest", "ver"], "verdict"),
        (["buildgap", "compare", "--bui"], "--build"),
        (["buildgap", "new", "x", "--for", "sp"], "spend"),
    ],
)
def test_what_the_tab_key_offers(shell, words, offered):
    out = complete(shell, words)
    assert offered in out
    assert "bunch" not in out


def test_files_are_offered_where_files_are_meant():
    assert complete("bash", ["buildgap", "check", "my"]).startswith("file")


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
def test_completion_is_told_in_help_and_readme_as_it_works(shell):
    from simulator.cli.main import group

    readme = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")
    told = CliRunner().invoke(group, ["--help"], prog_name="buildgap").output
    for text in (readme, told):
        assert "_BUILDGAP_COMPLETE=bash_source buildgap" in text
        assert f"{shell}_source" in text
    script = (
        CliRunner()
        .invoke(group, [], env={"_BUILDGAP_COMPLETE": f"{shell}_source"}, prog_name="buildgap")
        .output
    )
    assert f"_BUILDGAP_COMPLETE={shell}_complete" in script


@pytest.mark.skipif(shutil.which("bash") is None, reason="needs bash")
def test_bash_takes_the_script():
    from simulator.cli.main import group

    script = (
        CliRunner()
        .invoke(group, [], env={"_BUILDGAP_COMPLETE": "bash_source"}, prog_name="buildgap")
        .output
    )
    done = subprocess.run(
        ["bash", "--norc", "-c", f"{script}\ncomplete -p buildgap"],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    assert "_buildgap_completion" in done.stdout


def test_help_writes_limits_out():
    """Nobody reads 4.29497e+09."""

    @click.command()
    @shared.seed_option
    @shared.power_option
    def numbers(seed, power_w):
        click.echo(f"{seed} {power_w}")

    told = " ".join(CliRunner().invoke(numbers, ["--help"]).output.split())
    assert "0 to 4,294,967,295" in told
    assert "20 to 1,000]" in told
    assert CliRunner().invoke(numbers, ["--seed", "4294967295"]).output == "4294967295 None\n"
    assert CliRunner().invoke(numbers, ["--seed", "4294967296"]).exit_code == 2


@pytest.mark.parametrize("option", ["--course", "--out"])
def test_empty_name_is_not_the_folder_one_is_in(option):
    result = CliRunner().invoke(show, [*NEEDED, option, ""])
    assert result.exit_code == 2
    assert "an empty name; is a variable of the shell without a value?" in " ".join(
        result.output.split()
    )


def test_help_of_compare_tells_how_many_draws_it_takes():
    from simulator.cli.cmd_compare import command

    told = " ".join(CliRunner().invoke(command, ["--help"]).output.split())
    assert "200 or more" in told
    too_few = CliRunner().invoke(command, [*NEEDED, "--draws", "199"])
    assert "give 0, or 200 and more" in too_few.output
    enough = CliRunner().invoke(command, [*NEEDED, "--draws", "200"])
    assert "draws" not in enough.output  # it goes on, to the files that are not there

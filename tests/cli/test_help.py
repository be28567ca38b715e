"""Help is quick and light; errors come out in one form, from one place."""

import json
import re
import subprocess
import sys

import click
import pytest
from click.testing import CliRunner

from simulator import __version__
from simulator.cli import main
from simulator.errors import CannotFinish, InputError, InputErrors

HEAVY = {"numba", "matplotlib", "scipy", "llvmlite", "PIL"}
HEAVY_FOR_THE_LIST = HEAVY | {"numpy", "pydantic", "gpxpy", "shapely", "jinja2", "srtm", "requests"}

SHOW_MODULES = """
import json, sys
from simulator.cli.main import run
try:
    run(sys.argv[1:])
except SystemExit as leaving:
    tops = sorted({name.partition(".")[0] for name in sys.modules})
    print("\\nMODULES" + json.dumps([leaving.code, tops]))
"""


def run_and_list_modules(*arguments):
    done = subprocess.run(
        [sys.executable, "-c", SHOW_MODULES, *arguments],
        capture_output=True,
        text=True,
        timeout=60,
        check=True,
    )
    text, _, tail = done.stdout.rpartition("\nMODULES")
    code, modules = json.loads(tail)
    return code, text, set(modules)


def test_list_of_commands_is_light():
    code, text, modules = run_and_list_modules("--help")
    assert code == 0
    assert all(name in text for name in main.COMMANDS)
    assert "buildgap compare --course" in text
    assert not modules & HEAVY_FOR_THE_LIST


@pytest.mark.parametrize("name", main.COMMANDS)
def test_help_of_each_command_has_an_example_and_is_light(name):
    code, text, modules = run_and_list_modules(name, "--help")
    assert code == 0
    assert re.search(rf"^ +buildgap {name}\b", text.partition("Example")[2], re.MULTILINE)
    assert not modules & HEAVY


@pytest.mark.parametrize("name", main.COMMANDS)
def test_every_option_of_each_command_says_what_it_does(name):
    command = main.group.get_command(click.Context(main.group), name)
    for parameter in command.params:
        if isinstance(parameter, click.Option):
            assert parameter.help, parameter.name


def test_version():
    result = CliRunner().invoke(main.group, ["--version"])
    assert result.output == f"buildgap {__version__}\n"


def leave(monkeypatch, outcome, capsys):
    """Run a command that does `outcome`; exit code, stdout, stderr."""

    @click.command()
    def command():
        if isinstance(outcome, BaseException):
            raise outcome
        return outcome

    monkeypatch.setattr(main.LazyGroup, "get_command", lambda *_: command)
    with pytest.raises(SystemExit) as left:
        main.run(["demo"])
    out = capsys.readouterr()
    return left.value.code, out.out, out.err


@pytest.mark.parametrize(
    ("outcome", "code", "text"),
    [
        (None, 0, ""),
        (InputError(file="a.toml", found="found 3", expected="2"), 2,
         "buildgap: a.toml: found 3; expected 2.\n"),
        (CannotFinish("the rider cannot pass km 12.4 at 90 W"), 3,
         "buildgap: the rider cannot pass km 12.4 at 90 W\n"),
        (InputErrors([InputError(file="a", found="x"), InputError(file="a", found="y")]), 2,
         "buildgap: a: x.\nbuildgap: a: y.\n"),
        (InputError(file="\x1b[31ma", found="found"), 2, "buildgap: ?[31ma: found.\n"),
    ],
)  # fmt: skip
def test_errors_have_one_form_and_their_code(monkeypatch, capsys, outcome, code, text):
    assert leave(monkeypatch, outcome, capsys) == (code, "", text)


def test_interruption_is_quiet(monkeypatch, capsys):
    code, _, err = leave(monkeypatch, KeyboardInterrupt(), capsys)
    assert code == 130
    assert "interrupted" in err
    assert "Traceback" not in err


def test_fault_of_ours_shows_where_and_says_so(monkeypatch, capsys):
    code, _, err = leave(monkeypatch, ZeroDivisionError("oh"), capsys)
    assert code == 1
    assert "Traceback" in err
    assert "fault of the program" in err


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["chek"], "there is no command `chek`; did you mean `check`?"),
        (["zzz"], "there is no command `zzz`; see `buildgap --help`."),
        (["--nope"], "No such option"),
        (["check"], "Missing argument"),
        ([], "Commands:"),
    ],
)
def test_wrong_use_is_exit_2_without_traceback(arguments, words, capsys):
    with pytest.raises(SystemExit) as left:
        main.run(arguments)
    out = capsys.readouterr()
    assert left.value.code == 2
    assert words in out.out + out.err
    assert "Traceback" not in out.err


def test_reader_that_leaves_early_is_no_error():
    script = (
        "import click, sys\nfrom simulator.cli import main\n"
        "@click.command()\ndef many():\n    [click.echo('x' * 99) for _ in range(9999)]\n"
        "main.LazyGroup.get_command = lambda *_: many\nmain.run(['demo'])\n"
    )
    writer = subprocess.Popen(
        [sys.executable, "-c", script], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    )
    writer.stdout.readline()
    writer.stdout.close()
    error_text = writer.stderr.read()
    writer.stderr.close()
    writer.wait(timeout=30)
    assert error_text == ""


def test_letters_that_the_terminal_lacks():
    done = subprocess.run(
        [sys.executable, "-m", "simulator", "chek\u2032"],
        capture_output=True,
        check=False,
        env={"PYTHONIOENCODING": "latin-1", "PATH": ""},
    )
    assert done.returncode == 2
    assert b"there is no command `chek?`" in done.stderr

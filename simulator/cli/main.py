"""The command ``buildgap``: the list of commands and the one place where errors are caught.

Commands are imported when they are called, so that ``--help`` stays quick. A new command is a
file ``cmd_<name>.py`` with a click command called ``command``, and a line in `COMMANDS`.
"""

from __future__ import annotations

import difflib
import gc
import importlib
import os
import signal
import sys
import traceback
from collections.abc import Sequence
from typing import Any, NoReturn, TextIO

import click

from simulator import __version__
from simulator.cli.first_use import tell_of_first_use
from simulator.cli.shared import MEASURES_KEY, say
from simulator.errors import BuildgapError, CannotFinish, InputError

COMMANDS: dict[str, tuple[str, str]] = {
    "demo": (
        "simulator.cli.cmd_demo:command",
        "Ride two made-up builds over a shipped course: a first look.",
    ),
    "compare": (
        "simulator.cli.cmd_compare:command",
        "Ride builds over a course and explain the gap between them.",
    ),
    "ride": (
        "simulator.cli.cmd_ride:command",
        "Ride one build over a course and show the ride.",
    ),
    "course": (
        "simulator.cli.cmd_course:command",
        "Show what a track becomes: length, climbs, corners, findings.",
    ),
    "spend": (
        "simulator.cli.cmd_spend:command",
        "Find the parts that buy the most seconds for a budget.",
    ),
    "fieldtest": (
        "simulator.cli.cmd_fieldtest:command",
        "Turn recorded runs into drag and rolling figures, and judge them.",
    ),
    "weather": (
        "simulator.cli.cmd_weather:command",
        "Show the usual wind of a month and hour.",
    ),
    "powerplan": (
        "simulator.cli.cmd_powerplan:command",
        "Try pacings side by side; find the quickest plan; print its card.",
    ),
    "bunch": (
        "simulator.cli.cmd_bunch:command",
        "Say what it costs each build to stay in the bunch.",
    ),
    "new": (
        "simulator.cli.cmd_new:command",
        "Write a commented set of files to start from.",
    ),
    "check": (
        "simulator.cli.cmd_check:command",
        "Say whether files are sound, and what to mend.",
    ),
}
"""Name of each command -> where it stands, and its line in the list of commands."""

GARBAGE_OBJECTS = 300_000
"""How many objects may come up before Python looks for those that only hold each other. Starting up
makes half as many, none of them garbage; looking through them again and again took 0.1 s."""

EXIT_BUG = 1
EXIT_INTERRUPTED = 130
EXIT_TERMINATED = 143


class LazyGroup(click.Group):
    """A group that imports a command when it is called, not when it is listed."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Names of all commands, in the order of the table."""
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Import one command; None if there is none of that name."""
        if cmd_name not in COMMANDS:
            return None
        module_name, _, attribute = COMMANDS[cmd_name][0].partition(":")
        command = getattr(importlib.import_module(module_name), attribute)
        if not isinstance(command, click.Command):
            msg = f"{module_name}:{attribute} is not a click command"
            raise TypeError(msg)
        return command

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """Find the command called, or complain with the nearest name."""
        name = args[0]
        if name not in COMMANDS and not name.startswith("-"):
            close = difflib.get_close_matches(name, COMMANDS, n=1)
            hint = f"did you mean `{close[0]}`?" if close else "see `buildgap --help`."
            ctx.fail(f"there is no command `{name}`; {hint}")
        return super().resolve_command(ctx, args)

    def invoke(self, ctx: click.Context) -> Any:
        """Run a command; why a ride cannot be finished is told in the units asked for."""
        try:
            return super().invoke(ctx)
        except CannotFinish as error:
            if MEASURES_KEY not in ctx.meta:
                raise
            raise CannotFinish(ctx.meta[MEASURES_KEY].said(error.args[0])) from error

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write the list of commands without importing any."""
        with formatter.section("Commands"):
            formatter.write_dl([(name, line) for name, (_, line) in COMMANDS.items()])


@click.group(
    cls=LazyGroup,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
    epilog="Each command says more with --help. Start with: buildgap demo\n\n"
    "The Tab key completes commands, options and files after\n\n\b\n"
    '  eval "$(_BUILDGAP_COMPLETE=bash_source buildgap)"     (bash; zsh: zsh_source)\n'
    "  _BUILDGAP_COMPLETE=fish_source buildgap | source      (fish)",
)
@click.version_option(__version__, prog_name="buildgap", message="%(prog)s %(version)s")
def group() -> None:
    """Where does this bike cost me time, and what is worth buying?

    Rides bike builds over a real course with the same rider in the same weather, subtracts, and
    explains the gap: where it arises, why, and how sure it is.

    \b
    Example:
      buildgap compare --course race.gpx --build mine.toml --build dream.toml
    """  # noqa: D301, D400


def run(arguments: Sequence[str] | None = None) -> NoReturn:
    """Run the program and leave it with its exit code.

    0 all is well, 1 a fault of the program, 2 a fault in what the user gave, 3 a question without
    a finishing answer, 130 interrupted, 143 terminated.

    Parameters
    ----------
    arguments : sequence of str, optional
        What stands behind the program's name; by default what the shell gave.
    """
    _never_fail_on_letters(sys.stdout)
    _never_fail_on_letters(sys.stderr)
    if arguments is not None:  # a call from Python, which goes on afterwards
        sys.exit(_exit_code(arguments))
    signal.signal(signal.SIGTERM, _terminated)
    gc.set_threshold(GARBAGE_OBJECTS)
    if sys.stderr.isatty():  # for who waits in front of it; a script wants no such word
        tell_of_first_use(_complain)
    code = _exit_code(arguments)
    # Python would look through all that the compiler has loaded once more before it leaves: 0.2 s.
    gc.freeze()
    sys.exit(code)


def _exit_code(arguments: Sequence[str] | None) -> int:
    try:
        result = group.main(args=arguments, prog_name="buildgap", standalone_mode=False)
        sys.stdout.flush()
    except BuildgapError as error:
        _complain(str(error))
        if isinstance(error, InputError):
            _complain(_kind_hint(error))
        return error.exit_code
    except click.ClickException as error:
        error.show()
        return error.exit_code
    except (click.Abort, KeyboardInterrupt):
        _complain("interrupted; unfinished files were not kept")
        return EXIT_INTERRUPTED
    except BrokenPipeError:
        # The reader has gone (as in `buildgap ... | head`); Python would complain when closing.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return EXIT_BUG
    except Exception:
        traceback.print_exc()
        _complain(
            "this is a fault of the program, not of your files; please report the lines above"
        )
        return EXIT_BUG
    return result if isinstance(result, int) and not isinstance(result, bool) else 0


def _kind_hint(error: InputError) -> str:
    """Of what other kind a file with wrong keys is."""
    if "key `" not in error.place:
        return ""
    from simulator.cli.filekinds import kind_hint

    return kind_hint(error)


def _terminated(*_: object) -> None:
    """Leave as if interrupted: what is being written is taken away on the way out."""
    raise SystemExit(EXIT_TERMINATED)


def _complain(text: str) -> None:
    for line in text.splitlines():
        say(f"buildgap: {line}", err=True)


def _never_fail_on_letters(stream: TextIO) -> None:
    """A terminal that lacks a letter shows another one instead of ending the program."""
    reconfigure = getattr(stream, "reconfigure", None)
    if reconfigure is not None:
        reconfigure(errors="replace")

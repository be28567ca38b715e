"""What can go wrong, as types. Caught in one place, ``cli/main.py``.

::

    BuildgapError
    ├── InputError      a file, option or value of the user's is wrong      exit code 2
    │   └── InputErrors    several of them, found at once in one file       exit code 2
    └── CannotFinish    the question is sound but has no finishing answer   exit code 3

Anything else that escapes is a bug of ours (exit code 1, with a traceback).
"""

from __future__ import annotations

from collections.abc import Sequence


class BuildgapError(Exception):
    """Base of every error that is told to the user in one sentence."""

    exit_code = 1


class InputError(BuildgapError):
    """Something the user wrote or passed is wrong.

    Parameters
    ----------
    file : str
        File or option as the user named it.
    place : str
        Line, key, point number or the like; empty when the whole file is meant.
    found : str
        What was found.
    expected : str
        What is expected instead; may be empty when `found` says it all.
    mend : str
        What the user can do about it; may be empty.
    """

    exit_code = 2

    def __init__(
        self, *, file: str, place: str = "", found: str, expected: str = "", mend: str = ""
    ) -> None:
        self.file = str(file)
        self.place = place
        self.found = found
        self.expected = expected
        self.mend = mend
        head = f"{self.file}, {place}: " if place else f"{self.file}: "
        body = found
        if expected:
            body += f"; expected {expected}"
        if mend:
            body += f"; {mend}"
        text = (head + body).replace("\r", " ").replace("\n", " ")
        super().__init__(text if text.endswith((".", "?", "!")) else text + ".")


class InputErrors(InputError):
    """Several problems of one file, told together so that one round mends them all.

    The fields are those of the first problem; the text has one sentence a line.

    Parameters
    ----------
    problems : sequence of InputError
        At least one, in the order in which they stand in the file.
    """

    def __init__(self, problems: Sequence[InputError]) -> None:
        first = problems[0]
        super().__init__(
            file=first.file,
            place=first.place,
            found=first.found,
            expected=first.expected,
            mend=first.mend,
        )
        self.problems = tuple(problems)
        self.args = ("\n".join(str(problem) for problem in problems),)


class CannotFinish(BuildgapError):
    """A ride, fit or search that has no finishing answer; the message says where and why."""

    exit_code = 3

"""TOML text from a file a person wrote: read within limits, syntax errors in plain words."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

from simulator.errors import InputError
from simulator.files.bounded import read_bytes

MAX_BYTES = 1_000_000
MAX_LINE_CHARS = 2_000  # tomllib's time grows with the square of a dotted key's length
MAX_DEPTH = 20

_UTF16 = (b"\xff\xfe", b"\xfe\xff")

_AT = re.compile(r" \(at (?:line (?P<line>\d+), column \d+|end of document)\)$")
_DECIMAL_COMMA = re.compile(r"=\s*[-+]?\d[\d.]*,\d[\d.]*\s*(?:[,}#].*)?$")
_MARK_BEFORE = re.compile(r"=\s*[^\w\s\"'{\[.+#-]+\s*\d")
_NO_ZERO = re.compile(r"=\s*[-+]?\.\d")
_PLUS_MINUS = re.compile(r"=\s*(?P<value>[-+]?[\d.]+)\s*(?:±|\+/?-)\s*(?P<sd>[\d.]+)")
_CURLY_QUOTE = re.compile(r"[=\[,]\s*[“”„‟«»‘’‚]")
_OPEN_QUOTE = re.compile(r'=\s*"[^"]*$')
_BARE_WORD = re.compile(r"=\s*[A-Za-z]")
_CAPITAL_BOOL = re.compile(r"=\s*(?:True|False|TRUE|FALSE|yes|no|Yes|No)\s*(?:#.*)?$")
_UNITS_AFTER = re.compile(r"=\s*[-+]?[\d.]+\s*[A-Za-z%°/²]")


def read_text(path: Path, *, max_bytes: int = MAX_BYTES, kind: str = "TOML") -> str:
    """Read a UTF-8 text file within a size limit.

    Parameters
    ----------
    path : Path
        File to read; it is named in errors as it stands here.
    max_bytes : int
        Largest accepted size.
    kind : str
        What the file should be, for the message.

    Raises
    ------
    InputError
        If it is missing, a folder, unreadable, empty, too large or not UTF-8.
    """
    data = read_bytes(
        path,
        max_bytes=max_bytes,
        expected=f"a {kind} file",
        empty_mend="`buildgap new FOLDER` writes examples to start from",
    )
    if b"\0" in data and data[:2] not in _UTF16:
        raise InputError(
            file=str(path),
            found="a file that is not text",
            expected=f"a {kind} file",
            mend="is it the file of another option?",
        )
    return _decode(data, str(path))


def parse_toml(text: str, *, file: str) -> dict[str, object]:
    """Parse TOML text; a syntax error becomes one sentence with its line.

    Raises
    ------
    InputError
        If the text is not TOML, or holds lines or nests too long or deep to be written by hand.
    """
    if text.lstrip().startswith("<"):
        raise InputError(
            file=file,
            found="this is a track, a page or other XML",
            expected="a TOML file: lines of `key = value`",
            mend="is it the file of another option?",
        )
    lines = text.splitlines()
    for number, line in enumerate(lines, start=1):
        if len(line) > MAX_LINE_CHARS:
            raise InputError(
                file=file,
                place=f"line {number}",
                found=f"the line has {len(line)} characters",
                expected=f"at most {MAX_LINE_CHARS}",
                mend="break it into several lines",
            )
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise _syntax_error(str(error), lines, file) from None
    except RecursionError:
        raise _too_deep(file) from None
    except ValueError as error:  # an integer of thousands of digits
        raise InputError(file=file, found=f"a value cannot be read ({error})") from None
    if _depth_exceeds(data, MAX_DEPTH):
        raise _too_deep(file)
    return data


def _decode(data: bytes, file: str) -> str:
    if data[:2] in _UTF16:
        raise InputError(
            file=file,
            found="the text is stored as UTF-16",
            expected="UTF-8",
            mend="save it again with the encoding UTF-8",
        )
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise InputError(
            file=file,
            place=f"line {line}",
            found="a character is not stored as UTF-8",
            expected="UTF-8 text",
            mend="save the file again with the encoding UTF-8",
        ) from None


def _syntax_error(message: str, lines: list[str], file: str) -> InputError:
    match = _AT.search(message)
    what = _AT.sub("", message)
    what = what[:1].lower() + what[1:]
    number = int(match["line"]) if match and match["line"] else len(lines)
    line = lines[number - 1] if 0 < number <= len(lines) else ""
    mend = ""
    if _DECIMAL_COMMA.search(line):
        mend = "write decimal numbers with a point, as in 0.0045, and nothing between thousands"
    elif doubt := _PLUS_MINUS.search(line):
        mend = f"write {{ value = {doubt['value']}, sd = {doubt['sd']} }}"
    elif _NO_ZERO.search(line):
        mend = "write a zero before the point, as in 0.0045"
    elif _CURLY_QUOTE.search(line):
        mend = 'write straight quotation marks ("), not the curly ones of a text program'
    elif _OPEN_QUOTE.search(line):
        mend = "close the quotation mark in this line"
    elif _CAPITAL_BOOL.search(line):
        mend = "write `true` or `false`"
    elif _BARE_WORD.search(line):
        mend = 'put text in quotation marks, as in name = "Plover"'
    elif _UNITS_AFTER.search(line) or _MARK_BEFORE.search(line):
        mend = "write the number alone; its unit stands in the key"
    elif what.startswith("cannot overwrite"):
        mend = "does the key stand twice?"
    elif line.strip() and "=" not in line and not line.lstrip().startswith("["):
        mend = "write `key = value`, and `#` before a remark"
    found = f"this is not valid TOML ({what})"
    return InputError(file=file, place=f"line {number}", found=found, mend=mend)


def _too_deep(file: str) -> InputError:
    return InputError(
        file=file,
        found=f"tables or lists are nested more than {MAX_DEPTH} deep",
        expected="a file written by hand",
    )


def _depth_exceeds(data: object, limit: int) -> bool:
    level = [data]
    for _ in range(limit):
        inner: list[object] = []
        for item in level:
            if isinstance(item, dict):
                inner.extend(item.values())
            elif isinstance(item, list):
                inner.extend(item)
        if not inner:
            return False
        level = inner
    return any(isinstance(item, dict | list) for item in level)

"""Where each key of a TOML text stands: ``tomllib`` keeps no line numbers for keys.

The text is walked once, after ``tomllib`` has accepted it, so the walk may trust its grammar.
"""

from __future__ import annotations

import re

KeyPath = tuple[str | int, ...]

_BARE_KEY = re.compile(r"[A-Za-z0-9_-]+")
_SCALAR = re.compile(r"[^,\]}\n#]+")
_BLANK = re.compile(r"[ \t]*")
_BLANK_OR_COMMENT = re.compile(r"(?:[ \t\r\n]|#[^\n]*)*")
_BASIC = re.compile(r'"((?:[^"\\\n]|\\.)*)"')
_LITERAL = re.compile(r"'([^'\n]*)'")
_LONG_BASIC = re.compile(r'"""(?:[^"\\]|\\.|"(?!""))*"{3,5}', re.DOTALL)
_LONG_LITERAL = re.compile(r"'''(?:[^']|'(?!''))*'{3,5}", re.DOTALL)
_ESCAPE = re.compile(r"\\(u[0-9A-Fa-f]{4}|U[0-9A-Fa-f]{8}|.)")
_ESCAPED = {"b": "\b", "t": "\t", "n": "\n", "f": "\f", "r": "\r"}


def key_lines(text: str) -> dict[KeyPath, int]:
    """Line, counted from 1, of every key, table and array element of a valid TOML text.

    Parameters
    ----------
    text : str
        TOML that ``tomllib.loads`` has accepted.

    Returns
    -------
    dict
        Path from the root (names, and numbers from 0 for elements of arrays) to line number.
        A table that has a header stands at its header.
    """
    walk = _Walk(text)
    walk.document()
    return walk.lines


def _unescape(match: re.Match[str]) -> str:
    code = match.group(1)
    if code[0] in "uU" and len(code) > 1:
        return chr(int(code[1:], 16))
    return _ESCAPED.get(code, code)


class _Walk:
    """A cursor over the text that notes where keys stand."""

    def __init__(self, text: str) -> None:
        self.text = text.replace("\r\n", "\n")
        self.at = 0
        self.lines: dict[KeyPath, int] = {}
        self.counts: dict[KeyPath, int] = {}  # elements so far of each array of tables
        self._counted_to = 0
        self._line = 1

    def document(self) -> None:
        """Walk the whole text."""
        table: KeyPath = ()
        while True:
            self._skip(_BLANK_OR_COMMENT)
            if self.at >= len(self.text):
                return
            if self.text.startswith("[[", self.at):
                table = self._header(2)
            elif self.text[self.at] == "[":
                table = self._header(1)
            else:
                self._pair(table)

    def _header(self, n_brackets: int) -> KeyPath:
        line = self._line_here()
        self.at += n_brackets
        names = self._key()
        self.at += n_brackets
        path: KeyPath = ()
        for depth, name in enumerate(names):
            path = (*path, name)
            is_last = depth == len(names) - 1
            if is_last and n_brackets == 2:
                index = self.counts.get(path, 0)
                self.counts[path] = index + 1
                self.lines.setdefault(path, line)
                path = (*path, index)
            elif path in self.counts:
                path = (*path, self.counts[path] - 1)
            self.lines.setdefault(path, line)
        self.lines[path] = line
        return path

    def _pair(self, table: KeyPath) -> None:
        line = self._line_here()
        path = table
        for name in self._key():
            path = (*path, name)
            self.lines.setdefault(path, line)
        self.at += 1  # the equals sign
        self._skip(_BLANK)
        self._value(path)

    def _key(self) -> list[str]:
        names = []
        while True:
            self._skip(_BLANK)
            start = self.text[self.at]
            if start == '"' and (match := _BASIC.match(self.text, self.at)):
                names.append(_ESCAPE.sub(_unescape, match.group(1)))
            elif start == "'" and (match := _LITERAL.match(self.text, self.at)):
                names.append(match.group(1))
            else:
                match = _BARE_KEY.match(self.text, self.at)
                assert match is not None, "tomllib has checked the grammar"
                names.append(match.group(0))
            self.at = match.end()
            self._skip(_BLANK)
            if self.text[self.at] != ".":
                return names
            self.at += 1

    def _value(self, path: KeyPath) -> None:
        for pattern in (_LONG_BASIC, _LONG_LITERAL, _BASIC, _LITERAL):
            if match := pattern.match(self.text, self.at):
                self.at = match.end()
                return
        start = self.text[self.at]
        if start == "[":
            self._array(path)
        elif start == "{":
            self._inline_table(path)
        else:
            self._skip(_SCALAR)

    def _array(self, path: KeyPath) -> None:
        self.at += 1
        index = 0
        while True:
            self._skip(_BLANK_OR_COMMENT)
            if self.text[self.at] == "]":
                self.at += 1
                return
            if self.text[self.at] == ",":
                self.at += 1
                continue
            self.lines[(*path, index)] = self._line_here()
            self._value((*path, index))
            index += 1

    def _inline_table(self, path: KeyPath) -> None:
        self.at += 1
        while True:
            self._skip(_BLANK_OR_COMMENT)
            if self.text[self.at] == "}":
                self.at += 1
                return
            if self.text[self.at] == ",":
                self.at += 1
                continue
            self._pair(path)

    def _skip(self, pattern: re.Pattern[str]) -> None:
        if match := pattern.match(self.text, self.at):
            self.at = match.end()

    def _line_here(self) -> int:
        self._line += self.text.count("\n", self._counted_to, self.at)
        self._counted_to = self.at
        return self._line

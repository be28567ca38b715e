"""Odd things to put into a sound file: most faults that matter are wrong values in a frame."""

from __future__ import annotations

import random
import re

NUMBER = re.compile(rb"-?\d+(?:\.\d+)?")
ODD_NUMBERS = [
    b"0", b"-0", b"-1", b"1e999", b"nan", b"-inf", b"1e-320", b"9" * 30, b"2147483648", b"",
    b"1_000", b"0x10", b"1,5", b"true", b'"x"', b"[]", b"{}", b"[[1, 2], [3]]", b"90", b"180",
    b"360.0", b"-90.0", b"44.5", b"0.001", b"1e6", b"1979-05-27", b"12:00:00",
]  # fmt: skip
ODD_BYTES = [
    b"\x00", b"\xff", b"\n", b'"', b"'", b"<", b"</", b"]]>", b"&#0;", b"&amp;", b"<!DOCTYPE x>",
    b"\xed\xa0\x80", "\u202e".encode(), "\U0001f6b2".encode(), b"[" * 200, b"a." * 200, b"\r", b";",
]  # fmt: skip
N_WAYS = 6


def spoil(data: bytes, way: int, at: int, size: int, pick: int) -> bytes:
    """Change one thing: `way` says how, the others where, how much and what with."""
    at %= max(len(data), 1)
    if way in (0, 1):
        places = list(NUMBER.finditer(data, 1))
        if places:
            place = places[pick % len(places)]
            odd = ODD_NUMBERS[at % len(ODD_NUMBERS)]
            return data[: place.start()] + odd + data[place.end() :]
        return data
    if way == 2:
        return data[:at] + data[at + size :]
    if way == 3:
        return data[:at] + data[at : at + size] * 2 + data[at + size :]
    if way == 4:
        return data[:at] + ODD_BYTES[pick % len(ODD_BYTES)] + data[at:]
    lines = data.split(b"\n")  # a line in another place: right words, wrong order
    line = lines[at % len(lines)]
    lines.insert(pick % (len(lines) + 1), line)
    return b"\n".join(lines)


def spoilt_at_random(data: bytes, seed: int) -> bytes:
    """One to four changes, the same for the same seed."""
    thrown = random.Random(seed)
    for _ in range(thrown.randint(1, 4)):
        at, pick = thrown.randrange(1 << 24), thrown.randrange(1 << 24)
        data = spoil(data, thrown.randrange(N_WAYS), at, thrown.randint(1, 200), pick)
    return data

"""Who waits for the first ride on a computer is told what for; nobody else is."""

import subprocess
import sys

import pytest

pty = pytest.importorskip("pty", reason="terminals of this kind are not on Windows")

TALK = """
import os, sys
from simulator.cli.first_use import tell_of_first_use
tell_of_first_use(lambda words: print(words, flush=True))
import time, numba
time.sleep(0.3)
double = numba.njit(cache=True)(__import__("doubling").double)
print("rides", double(2.0), double(3))
"""


def test_told_once_while_it_compiles_and_not_when_it_was_kept(tmp_path):
    (tmp_path / "doubling.py").write_text("def double(x):\n    return 2 * x\n", encoding="utf-8")
    outs = [
        subprocess.run(
            [sys.executable, "-c", TALK], cwd=tmp_path, capture_output=True, text=True, check=True
        ).stdout.splitlines()
        for _ in range(2)
    ]
    first, again = outs
    assert again == ["rides 4.0 6"]
    assert first[1:] == again  # said once, though two kernels were compiled
    assert first[0].startswith("preparing rides on this computer: up to half a minute")


@pytest.mark.parametrize("is_terminal", [True, False])
def test_program_listens_only_where_somebody_sits(tmp_path, is_terminal):
    script = (
        "import sys, threading\nfrom simulator.cli import main\n"
        "sys.argv = ['buildgap', '--version']\n"
        "try:\n    main.run()\nfinally:\n"
        "    print(len([t for t in threading.enumerate() if t.daemon]))\n"
    )
    master, slave = pty.openpty()
    done = subprocess.run(
        [sys.executable, "-c", script],
        stdout=subprocess.PIPE,
        stderr=slave if is_terminal else subprocess.PIPE,
        text=True,
        check=True,
    )
    assert done.stdout.split()[-1] == ("1" if is_terminal else "0")
    assert master != slave

"""What a type checker sees of the package, from outside."""

import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]


@pytest.mark.slow
def test_scripts_are_typed_and_a_wrong_argument_is_found(tmp_path):
    wrong = tmp_path / "wrong.py"
    wrong.write_text(
        "from simulator import compare_builds\n"
        'gap = compare_builds("a.gpx", "b.toml", 3)\n'
        "gap.gaps_s.sum()\n",
        encoding="utf-8",
    )
    mypy = [sys.executable, "-m", "mypy", "--strict", "--cache-dir", str(tmp_path / "cache")]
    scripts = sorted(str(path) for path in (ROOT / "examples").glob("*.py"))
    done = subprocess.run(
        [*mypy, *scripts, str(wrong)], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert done.stdout.count("error:") == 1, done.stdout
    assert "incompatible type" in done.stdout
    assert "Found 1 error" in done.stdout

"""Coverage-guided fuzzing of the readers: ``python tests/fuzz/fuzz_readers.py gpx --minutes 10``.

Needs atheris (not a dependency of the project; it has wheels for Linux): ``pip install atheris``.
Inputs that were new are kept in ``out/fuzz/<target>/corpus``, findings in
``out/fuzz/<target>/found``. The last lines tell executions and coverage, ``tally.txt`` the rest.
A finding that is mended goes to ``tests/fuzz/found/<target>-<what>`` and is tried again by every
test run.
"""

from __future__ import annotations

import argparse
import hashlib
import sys
import tempfile
import time
import traceback
import warnings
from pathlib import Path

import atheris
from spoiling import spoilt_at_random

HERE = Path(__file__).parent
OUT = HERE.parents[1] / "out" / "fuzz"
SLOW_S = 5.0
"""An input that takes longer is a finding, too."""
TELL_EVERY_S = 5.0
MAX_BYTES = {"hgt": 60_000, "fit": 8_000, "year": 200_000}

# Kernels are compiled from their source: marks of the fuzzer in them would not compile.
import simulator.physics.batch  # noqa: E402
import simulator.physics.integrate  # noqa: F401, E402

with atheris.instrument_imports(include=["simulator", "fitdecode", "tomllib", "srtm"]):
    import reader_seeds
    import reader_targets

    from simulator import bunch, fieldtest, spend  # noqa: F401


class Watch:
    """Counts, and keeps one input of each kind of finding."""

    def __init__(self, name: str, folder: Path) -> None:
        self.name = name
        self.folder = folder
        self.kinds: dict[str, int] = {}
        self.n_taken = self.n_refused = 0
        self.slowest_s = 0.0
        self.told_s = 0.0

    def once(self, data: bytes) -> None:
        """Try one input."""
        began = time.perf_counter()
        try:
            told = reader_targets.answers(self.name, data)
        except Exception as error:
            frames = traceback.extract_tb(error.__traceback__)
            ours = [f for f in frames if "simulator" in f.filename] or frames
            self._keep(f"{type(error).__name__} at {Path(ours[-1].filename).name}:"
                       f"{ours[-1].lineno} ({str(error)[:80]!r})", data)  # fmt: skip
        else:
            self.n_taken += not told
            self.n_refused += bool(told)
        now = time.perf_counter()
        self.slowest_s = max(self.slowest_s, now - began)
        if now - began > SLOW_S:
            self._keep(f"slow: over {SLOW_S:.0f} s", data)
        if now - self.told_s > TELL_EVERY_S:
            self.told_s = now
            self.report()

    def _keep(self, kind: str, data: bytes) -> None:
        key = kind.partition("(")[0]
        self.kinds[key] = self.kinds.get(key, 0) + 1
        if self.kinds[key] == 1:
            file = self.folder / hashlib.sha256(data).hexdigest()[:12]
            file.write_bytes(data)
            sys.stderr.write(f"FOUND {kind} -> {file}\n")

    def report(self) -> None:
        """Write the tally; the fuzzer ends the process without a word to Python."""
        lines = [
            f"{self.name}: {self.n_taken} taken, {self.n_refused} refused, "
            f"{len(self.kinds)} kinds of finding, slowest {self.slowest_s:.2f} s",
            *(f"  {count} x {kind}" for kind, count in sorted(self.kinds.items())),
        ]
        (self.folder.parent / "tally.txt").write_text("\n".join(lines) + "\n", encoding="utf-8")


def _mutated(data: bytes, max_size: int, seed: int) -> bytes:
    """Half of the inputs by the fuzzer's own changes, half with odd values in a sound frame."""
    if seed % 2:
        return atheris.Mutate(data, max_size)
    return spoilt_at_random(data, seed)[:max_size]


def main() -> None:
    """Fuzz one target for some minutes."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("target", choices=list(reader_targets.TARGETS))
    parser.add_argument("--minutes", type=float, default=10.0)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    name = options.target
    corpus, found = OUT / name / "corpus", OUT / name / "found"
    for folder in (corpus, found):
        folder.mkdir(parents=True, exist_ok=True)
    for i, data in enumerate(reader_seeds.seeds(name)):
        (corpus / f"seed-{i}").write_bytes(data)
    for path in (HERE / "found").glob(f"{name}-*"):
        (corpus / path.name).write_bytes(path.read_bytes())
    dictionary = OUT / name / "words.txt"
    quoted = [
        '"' + "".join(f"\\x{byte:02x}" for byte in word.encode()) + '"'
        for word in reader_seeds.words(name)
    ]
    dictionary.write_text("\n".join(quoted) + "\n", encoding="ascii")
    warnings.simplefilter("error")
    tempfile.tempdir = str(OUT / name)
    watch = Watch(name, found)
    atheris.Setup(
        [
            sys.argv[0],
            f"-max_total_time={round(60 * options.minutes)}",
            f"-seed={options.seed}",
            f"-max_len={MAX_BYTES.get(name, 20_000)}",
            f"-dict={dictionary}",
            "-timeout=60",
            "-rss_limit_mb=3000",
            "-print_final_stats=1",
            f"-artifact_prefix={found}/",
            str(corpus),
        ],
        watch.once,
        custom_mutator=_mutated,
    )
    atheris.Fuzz()


if __name__ == "__main__":
    main()

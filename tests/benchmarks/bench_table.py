"""One table of speed and memory beside general-purpose means, and how cost grows.

``make bench-table`` writes docs/benchmarks.md on this machine; ``--quick`` uses small sizes and
prints only. Nothing else should run meanwhile. Each row runs in a process of its own, so that its
memory is its own; compiled kernels are kept from the first row on.
"""

from __future__ import annotations

import argparse
import json
import os
import platform
import resource
import subprocess
import sys
from dataclasses import asdict
from datetime import date
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

from bench_rows import PARTS, Row

ROOT = Path(__file__).parents[2]
PAGE = ROOT / "docs" / "benchmarks.md"

HEAD = """\
# Speed and memory

*Written by `make bench-table` on {machine}, {day}; {load}. Nothing here gates a test.*

The best of several runs, warm (compiled kernels kept), in s. Beside each figure stands a
general-purpose way to the same answer, run on the same numbers in the same run. "Apart" is how far
the two answers are from each other.

| What | Budget | Ours | General-purpose alternative | It takes | Times as long | Apart | Memory |
|---|---|---|---|---|---|---|---|
"""


def run_part(name, *, quick):
    """Rows of one part, measured in a process of its own, and that process's memory in MB."""
    arguments = [sys.executable, __file__, "--only", name, *(["--quick"] if quick else [])]
    done = subprocess.run(arguments, stdout=subprocess.PIPE, text=True, check=True, cwd=ROOT)
    told = json.loads(done.stdout.splitlines()[-1])
    return [Row(**row) for row in told["rows"]], told["peak_mb"]


def main():
    """Measure everything, or one part."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--quick", action="store_true", help="small sizes; prints, writes nothing")
    asked.add_argument("--only", choices=PARTS, help="one part, as JSON (used by this script)")
    options = asked.parse_args()
    if options.only:
        rows = [asdict(row) for row in PARTS[options.only](options.quick)]
        peak_mb = own_peak_mb()
        if options.only == "starting":  # the commands ran in processes of their own
            peak_mb = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1000.0
        sys.stdout.write(json.dumps({"rows": rows, "peak_mb": peak_mb}) + "\n")
        return
    load = f"load {os.getloadavg()[0]:.1f} when it began"
    found = {}
    for name in PARTS:
        sys.stderr.write(f"{name} ...\n")
        found[name] = run_part(name, quick=options.quick)
    page = page_text(found, load=load)
    sys.stdout.write(page)
    if not options.quick:
        PAGE.write_text(page, encoding="utf-8")


def own_peak_mb():
    """Peak memory of this process alone: on Linux ru_maxrss begins with that of the parent."""
    status = Path("/proc/self/status")
    if status.exists():
        return int(status.read_text(encoding="utf-8").split("VmHWM:")[1].split()[0]) / 1000.0
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1000.0


def page_text(found, *, load):
    """The page from what was measured: name -> (rows, memory in MB)."""
    machine = f"{os.cpu_count()} cores ({platform.machine()}), Python {platform.python_version()}"
    lines = [HEAD.format(machine=machine, day=date.today().isoformat(), load=load).rstrip("\n")]
    for rows, peak_mb in found.values():
        lines += [_line(row, peak_mb if i == 0 else None) for i, row in enumerate(rows) if row.what]
    lines += [
        "",
        "The budgets are those that the program was designed to; memory is the peak of the whole "
        "process (Python, libraries and compiled kernels included; budget 500 MB). Where a budget "
        "is not met, the figure says so.",
        "",
        "## How cost grows",
        "",
        "| What | Size | s | Times the line before |",
        "|---|---|---|---|",
    ]
    before = ("", 0.0)
    for rows, _ in found.values():
        for row in rows:
            for what, size, seconds in row.grows:
                ratio = f"{seconds / before[1]:.2g}" if before[0] == what and before[1] else ""
                lines.append(f"| {what} | {size} | {_figure(seconds)} | {ratio} |")
                before = (what, seconds)
    return "\n".join(lines) + "\n"


def _line(row, peak_mb):
    ratio = ""
    if row.measured_s and row.alternative_s:
        ratio = f"{row.alternative_s / row.measured_s:.3g}"
    cells = (
        row.what,
        row.budget,
        _figure(row.measured_s),
        row.alternative,
        _figure(row.alternative_s),
        ratio,
        row.apart,
        "" if peak_mb is None else f"{peak_mb:.0f} MB",
    )
    return "| " + " | ".join(cells) + " |"


def _figure(seconds):
    if seconds is None:
        return ""
    return f"{seconds:.3g}" if seconds >= 0.01 else f"{seconds:.2e}"


if __name__ == "__main__":
    main()

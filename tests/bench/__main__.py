"""All goals of speed in one run: ``python -m tests.bench``, or ``python -m tests.bench PART …``.

Each part is a module beside this one, run in a process of its own, and prints its goals beside its
medians, spreads and references of the same run. All that is printed, with what was measured on
what, is written to RESULTS.md. ``--listings 1000 --listings 10000`` says how large the shops are
that are repriced, ``--megabytes`` how large the toolpath is.
"""

import os
import subprocess
import sys
import time
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import click

RESULTS = Path(__file__).with_name("RESULTS.md")
PARTS = {
    "starting": ("The start of the service", "under 5 s, after a kill too"),
    "service": (
        "Quotes: over HTTP, in a process, of one quantity",
        "60 % of the echo's rate, p99 at most three times the echo's",
    ),
    "batches": (
        "Batches, and the price of a sku",
        "5,000 quotes a second and worker, others' p99 at most three times that when idle; "
        "75 % of the echo's rate",
    ),
    "expensive": (
        "Six expensive requests, and what another client meets meanwhile",
        "each within 2 s or refused, the other's p99 under 50 ms",
    ),
    "repricing": (
        "Imports and repricings",
        "10,000 imported in 5 s and priced in 3 s; 100,000 priced in 15 s, 1,000,000 in 90 s; "
        "after a change that 1 % use 1 s of 100,000 and 3 s of 1,000,000; under 1 GiB",
    ),
    "measuring": (
        "Measuring, beside the bare library's load",
        "STL of 10^5 triangles in under 1 s, under 1 GiB each",
    ),
    "toolpath": (
        "Reading a toolpath, beside a loop that only splits its lines",
        "50 MB in under 60 s, under 1 GiB",
    ),
    "cover": ("Exact covers of packs", "none; what bounds a part bought in many packs"),
    "estimates": (
        "Estimates beside toolpaths of the same shapes",
        "none; both are ours, which tests consistency, not truth",
    ),
}
"""What each part is about, and its goals."""


@click.command()
@click.argument("parts", nargs=-1, type=click.Choice(list(PARTS)))
@click.option("--listings", multiple=True, type=int, help="Of a shop that is repriced.")
@click.option("--megabytes", type=int, help="Of the toolpath that is read.")
@click.option("--keep/--no-keep", default=True, help="Write RESULTS.md.")
def main(
    parts: tuple[str, ...], listings: tuple[int, ...], megabytes: int | None, keep: bool
) -> None:
    """Run the parts, all unless some are named."""
    sizes = {
        "repricing": [str(each) for each in listings],
        "toolpath": [] if megabytes is None else ["--megabytes", str(megabytes)],
    }
    told = list(_heading())
    sys.stdout.write("\n".join(told) + "\n")
    failed = False
    for part in parts or PARTS:
        began, before = time.perf_counter(), os.getloadavg()[0]
        lines, status = _run(part, sizes.get(part, []))
        took, after = time.perf_counter() - began, os.getloadavg()[0]
        failed |= status != 0
        state = f"`python -m tests.bench.{part}`, {took:.0f} s, load {before:.1f} to {after:.1f}"
        if status:
            state += f"; it ended with {status}, see what it says"
        title, goal = PARTS[part]
        told += [f"## {title}", "", f"Goal: {goal}.", f"{state}.", ""]
        told += [*(f"    {each}".rstrip() for each in lines), ""]
    if keep:
        RESULTS.write_text("\n".join(told))
    sys.exit(failed)


def _run(part: str, arguments: list[str]) -> tuple[list[str], int]:
    """Run a part, and show what it prints as it comes."""
    sys.stdout.write("\n{}\nGoal: {}.\n".format(*PARTS[part]))
    sys.stdout.flush()
    lines: list[str] = []
    command = [sys.executable, "-m", f"tests.bench.{part}", *arguments]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as process:
        assert process.stdout is not None
        for line in process.stdout:
            sys.stdout.write(line)
            sys.stdout.flush()
            lines.append(line.rstrip())
    return lines, process.returncode


def _heading() -> Iterator[str]:
    yield "# What the bench printed last"
    yield ""
    commit = _told_by("git", "rev-parse", "--short", "HEAD")
    changed = " and changes" if _told_by("git", "status", "-s") else ""
    version = ".".join(map(str, sys.version_info[:3]))
    now = f"{datetime.now(UTC):%Y-%m-%d %H:%M} UTC"
    yield f"`python -m tests.bench` at {now}, commit {commit}{changed},"
    yield f"on {os.cpu_count()} cores, Python {version}, load {os.getloadavg()[1]:.1f}"
    yield "when it began. Where the load is above the cores, others compute too: then compare with"
    yield "the reference beside it, and by what it takes of a core, not with the goal alone."
    yield ""


def _told_by(*command: str) -> str:
    return subprocess.run(command, capture_output=True, text=True, check=True).stdout.strip()


if __name__ == "__main__":
    main()

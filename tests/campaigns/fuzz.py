"""Feeds each reader of foreign bytes what a coverage-guided fuzzer (atheris) makes of good ones.

In an environment of its own, for it is no dependency of ours:
``python -m venv /tmp/fuzz && /tmp/fuzz/bin/pip install atheris``, then with the tests'
site-packages in PYTHONPATH ``/tmp/fuzz/bin/python -m tests.campaigns.fuzz SECONDS READER...``
(``all`` takes each of them, one after another). A reader may refuse in its own way; of every other
exception the first bytes that raised it are kept, and the run goes on.
"""

import re
import subprocess
import sys
import tempfile
import time
import traceback
from pathlib import Path

import atheris

INSTRUMENTED = ["gramhour", "gramhour_service", "tomllib", "multipart"]
READERS = (
    *("json", "toml", "sheet", "ndjson", "csv", "listings", "stl", "3mf", "gcode", "tokens"),
    *("headers", "queries", "multipart", "forms", "bodies", "comparisons", "calibrations"),
    "workload",
)
LONGEST = 20_000
SLOWEST_SECONDS = 20
LINES_SHOWN = 30
FIGURES = re.compile(r"cov: (\d+) ft: (\d+) corp: (\d+)")
RUNS = re.compile(r"Done (\d+) runs|^#(\d+)", re.MULTILINE)


def feed(name: str, seconds: int, corpus: str) -> None:
    """Feed one reader; the fuzzer ends the program."""
    with atheris.instrument_imports(include=INSTRUMENTED):
        from tests.campaigns.foreign import OWN_WAYS, readers  # noqa: PLC0415

    reader = readers()[name]()

    found: set[str] = set()

    def once(sent: bytes) -> None:
        try:
            reader.read(sent)
        except OWN_WAYS:
            return
        except Exception as error:
            told = traceback.format_exception(error)
            kind = f"{type(error).__name__} after {told[-2].strip().splitlines()[0]}"
            if kind not in found:
                found.add(kind)
                kept = Path(tempfile.gettempdir()) / f"found-{name}-{len(found)}"
                kept.write_bytes(sent)
                sys.stderr.write(f"FOUND {kind} (kept in {kept}): {str(error)[:500]!r}\n")

    for number, good in enumerate(reader.good):
        (Path(corpus) / f"good-{number}").write_bytes(good)
        once(good)
    arguments = [
        f"-max_total_time={seconds}",
        f"-max_len={LONGEST}",
        f"-timeout={SLOWEST_SECONDS}",
        "-rss_limit_mb=3000",
        "-len_control=0",
        f"-artifact_prefix={corpus}-",
    ]
    atheris.Setup([sys.argv[0], corpus, *arguments], once, custom_mutator=reader.alter)
    atheris.Fuzz()


def fed(name: str, seconds: int) -> str:
    """Feed a reader in a process of its own; say what came of it in a line."""
    with tempfile.TemporaryDirectory() as folder:
        corpus = Path(folder) / name
        corpus.mkdir()
        began = time.monotonic()
        command = [
            sys.executable,
            "-m",
            "tests.campaigns.fuzz",
            "feed",
            name,
            str(seconds),
            str(corpus),
        ]
        ended = subprocess.run(
            command,
            check=False,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
            errors="replace",
        )
        lasted = time.monotonic() - began
        figures = FIGURES.findall(ended.stdout)
        runs = max((int(a or b) for a, b in RUNS.findall(ended.stdout)), default=0)
        first, last = (figures[0], figures[-1]) if figures else (("0",) * 3,) * 2
        said = f"{name}: {runs:,} runs in {lasted:.0f} s, edges {first[0]} → {last[0]}, "
        said += f"features {first[1]} → {last[1]}, corpus {last[2]}"
        found = [line for line in ended.stdout.splitlines() if line.startswith("FOUND ")]
        for each in Path(folder).glob(f"{name}-*"):  # what took too long, or too much memory
            found.append(f"FOUND {each.name}, kept beside the others")
            each.rename(Path(tempfile.gettempdir()) / f"found-{each.name}")
        if ended.returncode:
            found += ended.stdout.splitlines()[-LINES_SHOWN:]
        return "\n".join([said + (", nothing found" if not found else ""), *found])


def main(seconds: int, names: list[str]) -> None:
    """Feed the readers named, one after another."""
    for name in READERS if names == ["all"] else names:
        sys.stdout.write(fed(name, seconds) + "\n")
        sys.stdout.flush()


if __name__ == "__main__":
    if sys.argv[1] == "feed":
        feed(sys.argv[2], int(sys.argv[3]), sys.argv[4])
    else:
        main(int(sys.argv[1]), sys.argv[2:])

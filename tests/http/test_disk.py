"""A disk that is full, and one that may not be written, are told, and quoting goes on.

They are real: a program with mounts of its own (namespaces(7), unshare(1)) has a small disk.
"""

import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parent.parent.parent


def seen_by(way: str, folder: Path) -> tuple[list[str], str]:
    """Run a way of the program; say what it saw, and what the service logged."""
    program = [sys.executable, "-m", "tests.http.disk", way, str(folder)]
    done = subprocess.run(
        ["unshare", "--map-root-user", "--mount", *program],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    return done.stdout.splitlines(), done.stderr


def test_a_full_disk_is_told_nothing_is_lost_and_it_goes_on_once_there_is_room(
    tmp_path: Path,
) -> None:
    told, logged = seen_by("full", tmp_path)
    assert told == ["507 store-full", "one: 507"] * 3
    assert logged.count("no space is left for the store; make room") == 6


def check_only_writing_is_refused(told: list[str], logged: str, folder: Path) -> None:
    first, rate, several, one, last = told
    assert (first, rate, last) == ("quote: 200", "rate: 32.00", "quote: 200")
    for refused in (several, one):
        assert refused.startswith("503 store-")
        assert "written" in refused
        assert str(folder) not in refused
    assert f"{folder}/gramhour.sqlite may not be written" in logged


def test_on_a_store_that_becomes_read_only_quotes_work_and_writes_say_why_not(
    tmp_path: Path,
) -> None:
    check_only_writing_is_refused(*seen_by("read_only_since_the_start", tmp_path), tmp_path)


def test_on_a_store_that_is_read_only_quotes_work_and_writes_say_why_not(tmp_path: Path) -> None:
    check_only_writing_is_refused(*seen_by("read_only", tmp_path), tmp_path)

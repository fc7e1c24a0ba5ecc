"""A full disk and one that is read-only, while listings are sent, repriced and applied.

They are real: a program with mounts of its own (namespaces(7), unshare(1)) has a small disk.
"""

import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent.parent
FULL = "507 store-full: make room, then send it again"
READ_ONLY = (
    "503 store-read-only: it may not be written: nothing was saved, quotes go on; tell the shop"
)


def seen_by(way: str, folder: Path) -> tuple[list[str], str]:
    """Run a way of the program; say what it saw, and what was logged."""
    program = [sys.executable, "-m", "tests.http.repricing_disk", way, str(folder)]
    done = subprocess.run(
        ["unshare", "--map-root-user", "--mount", *program],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    return done.stdout.splitlines(), done.stderr


@pytest.mark.parametrize("way", ["rows", "apply"])
def test_on_a_full_disk_none_of_it_is_done_and_all_of_it_once_there_is_room(
    tmp_path: Path, way: str
) -> None:
    told, logged = seen_by(way, tmp_path)
    assert told == [FULL] * 3
    assert logged.count("no space is left for the store; make room") == 3


@pytest.mark.parametrize("way", ["read_only", "read_only_since_the_start"])
def test_on_a_read_only_store_all_is_read_and_writers_are_told_why_not(
    tmp_path: Path, way: str
) -> None:
    told, logged = seen_by(way, tmp_path)
    assert told == [READ_ONLY] * 5
    assert f"{tmp_path}/gramhour.sqlite may not be written" in logged


def test_a_run_that_fills_the_disk_fails_in_words_and_another_works_once_there_is_room(
    tmp_path: Path,
) -> None:
    asked, ran = seen_by("run", tmp_path)[0]
    assert asked == FULL
    assert ran == "failed: no space is left for the store; make room"


def test_on_a_read_only_store_a_run_that_broke_off_is_told_as_such(tmp_path: Path) -> None:
    told, _ = seen_by("read_only_with_a_run_that_broke_off", tmp_path)
    assert told == ["broken_off"]

"""The bar of long work: on a terminal, and nowhere else."""

import os
import pty
import subprocess
import sys
from pathlib import Path

from tests.commandline.conftest import Run
from tests.commandline.offering import stock, told_of


def test_progress_is_shown_on_a_terminal_only_and_leaves_no_colour_there(
    run: Run, shop: Path
) -> None:
    stock(run, shop)
    rows = "".join(f"R{n:05},stake,stall,40\n" for n in range(1500))
    (shop / "many.csv").write_text("sku,product,channel,aim.margin_pct\n" + rows)
    told_of(run, "listings", "import", "many.csv")
    ours, theirs = pty.openpty()
    environment = {
        **os.environ,
        "GRAMHOUR_STORE": str(shop / "shop" / "store.sqlite"),
        "NO_COLOR": "1",
        "TERM": "xterm",
        "COLUMNS": "90",
    }
    code = "from gramhour_service.commandline import main; main()"
    done = subprocess.run(
        [sys.executable, "-c", code, "reprice", "--lines", "1"],
        stderr=theirs,
        stdout=subprocess.PIPE,
        env=environment,
        check=True,
        timeout=120,
    )
    os.close(theirs)
    shown = b""
    while chunk := _read(ours):
        shown += chunk
    os.close(ours)
    assert b"Repricing" in shown
    assert b"/1502" in shown
    assert b"\x1b[3" not in shown, "no colours"
    assert b"1502 listings: 1502 new" in shown
    assert b"\x1b" not in done.stdout


def _read(descriptor: int) -> bytes:
    """Read what there is; a terminal whose other end is closed ends with an error."""
    try:
        return os.read(descriptor, 65_536)
    except OSError:
        return b""

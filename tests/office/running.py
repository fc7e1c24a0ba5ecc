"""A real office without a screen, with a profile of its own, driven in a process of its own."""

import json
import os
import secrets
import signal
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

DRIVER = Path(__file__).parent / "driven.py"
SYSTEM_PYTHON = "/usr/bin/python3"
"""The office's UNO is known to the system's Python alone."""
SYSTEM_PATH = "/usr/local/bin:/usr/bin:/bin"
FOREIGN = ("PYTHON", "VIRTUAL_ENV", "GRAMHOUR_")
NEW_SHEET = "private:factory/scalc"

TRUSTED = """<?xml version="1.0" encoding="UTF-8"?>
<oor:items xmlns:oor="http://openoffice.org/2001/registry">
<item oor:path="/org.openoffice.Office.Common/Security/Scripting">
<prop oor:name="SecureURL" oor:op="fuse"><value><it>{folder}</it></value></prop></item>
<item oor:path="/org.openoffice.Setup/L10N">
<prop oor:name="ooSetupSystemLocale" oor:op="fuse"><value>{locale}</value></prop></item>
</oor:items>
"""


class Office:
    """An office that is told what to do, one thing after another."""

    def __init__(self, driver: subprocess.Popen[str], process: subprocess.Popen[bytes]) -> None:
        self._driver, self.process = driver, process
        self.seconds = 0.0

    def do(self, what: str, **told: Any) -> Any:
        """Do something, and say what came of it; ``seconds`` is how long it took."""
        assert self._driver.stdin
        print(json.dumps({"do": what, **told}), file=self._driver.stdin, flush=True)
        return self.answer()

    def answer(self) -> Any:
        """Read an answer of the driver."""
        assert self._driver.stdout
        line = self._driver.stdout.readline()
        assert line, "the driver has ended"
        answer = json.loads(line)
        assert "failed" not in answer, answer["failed"]
        self.seconds = answer.get("seconds", 0.0)
        return answer["is"]


@contextmanager
def office(folder: Path, locale: str = "en-US", **environment: str) -> Iterator[Office]:
    """Start an office that trusts what lies in a folder; end it in any case."""
    profile = folder / f"profile-{secrets.token_hex(4)}"
    (profile / "user").mkdir(parents=True)
    settings = TRUSTED.format(folder=folder.as_uri(), locale=locale)
    (profile / "user" / "registrymodifications.xcu").write_text(settings)
    pipe = f"gramhour{secrets.token_hex(6)}"
    env = {name: value for name, value in os.environ.items() if not name.startswith(FOREIGN)}
    env["PATH"] = SYSTEM_PATH  # or the office's Python takes this environment's for its own
    started = [
        "soffice", "--headless", "--norestore", "--nologo", "--nodefault",
        f"-env:UserInstallation={profile.as_uri()}", f"--accept=pipe,name={pipe};urp;",
    ]  # fmt: skip
    with (folder / "office.printed").open("ab") as printed:
        process = subprocess.Popen(
            started, env={**env, **environment}, stdout=printed, stderr=printed,
            start_new_session=True,
        )  # fmt: skip
        driver = subprocess.Popen(
            [SYSTEM_PYTHON, str(DRIVER), pipe], env=env, stdin=subprocess.PIPE,
            stdout=subprocess.PIPE, stderr=printed, text=True,
        )  # fmt: skip
        try:
            found = Office(driver, process)
            assert found.answer() == "ready"
            yield found
        finally:
            driver.kill()
            driver.communicate()
            os.killpg(process.pid, signal.SIGKILL)
            process.wait()

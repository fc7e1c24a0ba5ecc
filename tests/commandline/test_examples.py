"""What --help shows as examples works as it stands, one after another, in a new shop."""

import re
import shlex
import shutil
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from gramhour_service.commandline import main
from gramhour_service.commandline.examples import EXAMPLES, commands_of
from gramhour_service.commandline.once import Once
from gramhour_service.store.opening import open_store
from tests import demo
from tests.cube_toolpath import CUBE_GCODE
from tests.server.running import serving

COMMANDS = [name for name, _ in commands_of(main)]
SHOWN = re.compile(r"^    ((?:cat \S+ \| )?gramhour .*)$", re.MULTILINE)


def test_an_option_of_any_command_stands_once() -> None:
    assert [name for name, each in commands_of(main) if not isinstance(each, Once)] == []


def help_of(name: str, width: int = 100) -> str:
    shown = CliRunner(env={"COLUMNS": str(width)}).invoke(main, [*name.split(), "--help"])
    assert shown.exit_code == 0
    return shown.stdout


def run(command: str) -> Result:
    """Run a line as a shell does: a pipe before it, a file behind it."""
    words = shlex.split(command.rpartition(" | ")[2])
    sent = Path(shlex.split(command)[1]) if "cat " in command else None
    target = words.pop() if ">" in words else None
    arguments = [word for word in words[1:] if word != ">"]
    done = CliRunner().invoke(main, arguments, input=sent.read_bytes() if sent else None)
    if target:
        Path(target).write_text(done.stdout)
    return done


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with the files that the examples name."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("GRAMHOUR_STORE", "my-shop.sqlite")
    for name, target in (
        ("herb-planter.toml", "my-product.toml"),
        ("shop/compare-nozzles.toml", "my-nozzles.toml"),
        ("shop/dearer-asa.toml", "my-changes.toml"),
        ("shop/seed-tray-label.stl", "my-part.stl"),
        ("shop/timed-builds.toml", "my-builds.toml"),
    ):
        shutil.copy(demo.FOLDER / name, tmp_path / target)
    Path("my-toolpath.gcode").write_bytes(CUBE_GCODE)
    Path("my-nozzles.csv").write_text("code,name,diameter_mm\nn10,1.0 mm,1.0\n")
    return tmp_path


def test_every_command_has_examples() -> None:
    assert list(EXAMPLES) == [name for name in EXAMPLES if name in COMMANDS]
    without = [name for name in COMMANDS if name not in EXAMPLES]
    assert without == [], "add them to service/gramhour_service/commandline/examples.py"


@pytest.mark.parametrize("name", EXAMPLES)
@pytest.mark.parametrize("width", [40, 80, 200])
def test_help_shows_the_examples_whole_however_wide_the_terminal(name: str, width: int) -> None:
    assert SHOWN.findall(help_of(name, width)) == list(EXAMPLES[name])


def test_the_examples_work_as_they_stand(folder: Path) -> None:
    for name in EXAMPLES:
        if name == "serve":
            continue
        for shown in SHOWN.findall(help_of(name)):
            example = prepared(shown) if name.startswith("seals") else shown
            done = run(example)
            assert done.exit_code == 0, (example, done.output)
    assert {path.name for path in folder.glob("my-*")} >= {
        "my-rates.toml", "my-stored-rates.toml", "my-materials.csv", "my-products.ndjson",
        "my-listings.csv", "my-desk.key", "my-copy.sqlite", "my-restored.sqlite",
    }  # fmt: skip


def prepared(example: str) -> str:
    """Put in what an example cannot know: a key that signs no more, and a seal."""
    store = open_store(Path("my-shop.sqlite"))
    try:
        (kid,) = store.execute("SELECT kid FROM price_seal LIMIT 1").fetchone()
        (seal,) = store.execute("SELECT seal FROM price_seal LIMIT 1").fetchone()
    finally:
        store.close()
    Path("my-seal.txt").write_text(seal)
    return example.replace("KEY", kid)


@pytest.mark.parametrize("example", EXAMPLES["serve"])
def test_the_service_starts_as_the_examples_say(example: str, tmp_path: Path) -> None:
    options = [word for word in shlex.split(example)[2:] if word not in ("--port", "8751", "8752")]
    (tmp_path / "shop").mkdir()
    with serving(tmp_path / "shop" / "gramhour.sqlite", *options) as service:
        assert service.ask("GET", "/health").status == 200

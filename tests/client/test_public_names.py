"""The public surface: its names, its types, and what importing it costs others."""

import inspect
import subprocess
import sys
from importlib.resources import files

import pytest

import gramhour
from gramhour import Client, calls

PUBLIC = [name for name in gramhour.__all__ if name != "__version__"]


def test_all_is_every_public_name_in_order() -> None:
    assert gramhour.__all__ == sorted(set(gramhour.__all__), key=lambda name: name)
    assert set(gramhour._ROOM_OF) == set(PUBLIC)
    assert set(gramhour.__all__) <= set(dir(gramhour))


def test_what_checkers_see_is_what_is_imported() -> None:
    tree = inspect.getsource(gramhour)
    block = tree[tree.index("if TYPE_CHECKING:") : tree.index("__all__")]
    shown = dict[str, object]()
    exec(block.replace("if TYPE_CHECKING:", "if True:"), shown)
    assert {name for name in shown if name != "__builtins__"} == set(PUBLIC)
    assert all(getattr(gramhour, name) is shown[name] for name in PUBLIC)


@pytest.mark.parametrize("name", PUBLIC)
def test_every_public_name_says_what_it_is(name: str) -> None:
    found = getattr(gramhour, name)
    assert inspect.getdoc(found)
    assert found.__module__.startswith("gramhour.")


def test_an_unknown_name_is_an_attribute_error() -> None:
    with pytest.raises(AttributeError, match="module 'gramhour' has no attribute 'Clint'"):
        gramhour.Clint  # noqa: B018


def test_the_contract_is_imported_without_the_client_and_its_library() -> None:
    code = "import sys, gramhour.contract.request; print('httpx' in sys.modules)"
    said = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert said.stdout == "False\n"


def test_checkers_are_told_that_it_is_typed() -> None:
    assert files("gramhour").joinpath("py.typed").is_file()


def test_requests_refuse_to_be_changed_and_calls_too() -> None:
    call = calls.health()
    with pytest.raises(AttributeError):
        call.path = "/x"  # type: ignore[misc]
    request = gramhour.Feed(material="asa-green")
    with pytest.raises(AttributeError):
        request.material = "x"  # type: ignore[misc]


def test_a_client_tells_where_it_asks() -> None:
    with Client() as client:
        assert repr(client) == "Client(url='http://127.0.0.1:8750')"

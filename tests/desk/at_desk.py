"""A desk in-process: signed in by a key's name, its forms sent as a browser sends them."""

import re
from collections.abc import Mapping
from html.parser import HTMLParser
from typing import Any
from urllib.parse import urlencode

import httpx

from gramhour_service.http.desk import DESK
from tests.http.door import BOUND, Door, secret

FORM = {"Content-Type": "application/x-www-form-urlencoded", "Accept": "text/html"}
OURS = {"Origin": f"http://{BOUND}", "Sec-Fetch-Site": "same-origin"}
COOKIE = "gramhour-desk"
Fields = Mapping[str, str | list[str]]
OPEN = {("GET", "/desk/sign-in"), ("HEAD", "/desk/sign-in"), ("POST", "/desk/sign-in")}
NAMES = {
    "{kind:str}": "materials",
    "{code:str}": "asa-green",
    "{number:str}": "1",
    "{name:str}": "0",
}


def filled(path: str) -> str:
    for name, value in NAMES.items():
        path = path.replace(name, value)
    return path


def routes(method: str) -> list[str]:
    """List the paths of the desk that need a sign-in, filled in."""
    return [
        filled(path)
        for handler in DESK
        for path in handler.paths
        if method in map(str, handler.http_methods) and (method, path) not in OPEN
    ]


class Seen(HTMLParser):
    """The fields of a page's forms, with what stands in them."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.fields: dict[str, list[str]] = {}
        self._select = self._text = ""
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        has = {name: value or "" for name, value in attrs}
        name, kind = has.get("name", ""), has.get("type", "")
        match tag:
            case "input" if name and (kind not in ("checkbox", "radio") or "checked" in has):
                self.fields.setdefault(name, []).append(has.get("value", ""))
            case "select":
                self._select = name
                self.fields.setdefault(name, [""])
            case "option" if "selected" in has:
                self.fields[self._select] = [has["value"]]
            case "textarea" if name:
                self._text = name
                self.fields[name] = [""]

    def handle_data(self, data: str) -> None:
        if self._text:
            self.fields[self._text] = [self.fields[self._text][0] + data]

    def handle_endtag(self, tag: str) -> None:
        if tag == "textarea":
            self._text = ""


class AtDesk:
    """Somebody at the desk, with the cookie of a sign-in."""

    def __init__(self, door: Door, word: str) -> None:
        self.door, self.word = door, word

    def get(self, path: str) -> httpx.Response:
        """Open a page."""
        return self.door.ask("GET", path, headers={"Accept": "text/html", **self.cookie()})

    def post(self, path: str, fields: Fields, headers: Mapping[str, str] = OURS) -> httpx.Response:
        """Send a form with exactly these fields."""
        told = {**FORM, **headers, **self.cookie()}
        return self.door.ask("POST", path, content=urlencode(fields, doseq=True), headers=told)

    def send(self, path: str, fields: Fields, opened: str = "") -> httpx.Response:
        """Open a page, change some of its fields, and send the form."""
        page = self.get(opened or path)
        assert page.status_code == 200, page.text
        return self.post(path, {**Seen(page.text).fields, **fields})

    def token(self) -> str:
        """Read the token of this sign-in's forms from a page."""
        return Seen(self.get("/desk").text).fields["form-token"][0]

    def cookie(self) -> dict[str, str]:
        """Write the cookie as a header."""
        return {"Cookie": f"{COOKIE}={self.word}"}


def sign_in(
    door: Door, key: str, headers: Mapping[str, str] = OURS, **fields: str
) -> httpx.Response:
    """Send the form of the page for signing in, in a browser that was not here before."""
    sent, new = urlencode({"key": key, **fields}), {"Cookie": "none=yet"}
    return door.ask("POST", "/desk/sign-in", content=sent, headers={**FORM, **headers, **new})


def signed_in(door: Door, name: str) -> AtDesk:
    """Sign in with the key of a name."""
    return AtDesk(door, word_of(sign_in(door, secret(name))))


def word_of(answer: httpx.Response) -> str:
    """Take the word of a new sign-in from its cookie."""
    found = re.match(rf"{COOKIE}=([A-Za-z0-9_-]{{43}});", answer.headers["set-cookie"])
    assert found is not None, answer.headers
    return found[1]


def main_of(page: httpx.Response) -> str:
    """Read the texts of a page's content."""
    body = page.text.split("<main", 1)[1].split("</main>", 1)[0]
    return " ".join(re.sub(r"<[^>]+>", " ", body).split())


def titles(page: httpx.Response) -> Any:
    """Read a page's title."""
    return re.findall(r"<title>(.*?)</title>", page.text)

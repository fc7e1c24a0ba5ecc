"""/desk/sign-in and /desk/sign-out: a key opens the desk, for half a day at most.

The key is sent once, in a form, and kept nowhere; the cookie that comes back is a random word.
"""

import re
from http import HTTPStatus

from litestar import Response, route
from litestar.datastructures import Cookie

from gramhour_service.http.asking import LONGEST_KEY, caller_of
from gramhour_service.http.desk.serving import (
    SIGN_IN,
    Form,
    fields_of,
    form_sent,
    go_to,
    serves_desk,
    sign_in_page,
)
from gramhour_service.http.desk.sign_in import COOKIE, asker_of, begin, check_origin, end, token_of
from gramhour_service.http.settings import MOST_FORM_BYTES
from gramhour_service.http.shop import Shop
from gramhour_service.http.site.serving import page, refused_page, serves_page
from gramhour_service.http.wire import Asked
from gramhour_service.store.keys import AccessKey

THEN = "then"
KEPT = "kept:"
OF_THE_DESK = re.compile(r"(?!.*\.\.)/desk(/[A-Za-z0-9._~/-]*)?(\?[^#\\\s]*)?")
ENDED = "Your sign-in has ended. Sign in again."
WRONG = (
    "This key is unknown, expired or revoked. Look for a space or a line end copied along, or have "
    "one added: gramhour keys add NAME --scope cost"
)
TOO_LITTLE = "This key sees no costs, so it does not open the desk. Ask for one with scope cost."


@serves_page("GET", SIGN_IN)
async def sign_in(request: Asked) -> Response[bytes]:
    """Answer the page for signing in."""
    asked = request.query_params
    says = ENDED if "ended" in asked else ""
    return sign_in_page(request, says=says, then=_safe(asked.get("next", "")))


@route(
    SIGN_IN,
    http_method="POST",
    status_code=200,
    request_max_body_size=MOST_FORM_BYTES,
    opt={"scope": None, "cells": False},
    exception_handlers={Exception: refused_page},
    include_in_schema=False,
)
async def begin_sign_in(request: Asked) -> Response[bytes]:
    """Sign in by a key; hand on what was typed before, if there is anything.

    Wrong keys are counted as everywhere. Raises ``Refused`` for too many.
    """
    check_origin(request)
    shop: Shop = request.app.state.shop
    form = await fields_of(request)
    then = _safe(form.one(THEN))
    kept = Form({name[len(KEPT) :]: form.fields[name] for name in form.fields if KEPT in name[:5]})
    key, fault = _key(shop, form.one("key"))
    if key is None:
        if fault == WRONG:
            shop.count_wrong_key(caller_of(request))
        return sign_in_page(
            request, status=HTTPStatus.UNAUTHORIZED, then=then, kept=kept, fault=fault
        )
    await end(shop, request.cookies.get(COOKIE, ""))
    word, _ = await begin(shop, key)
    answer = _handed_on(request, then, kept, token_of(word)) if kept.fields else go_to(then)
    answer.set_cookie(_cookie(request, word))
    return answer


def _key(shop: Shop, secret: str) -> tuple[AccessKey | None, str]:
    """Find the key that was typed, if it opens the desk; else say why it does not."""
    key = shop.find_key(secret) if 0 < len(secret) <= LONGEST_KEY else None
    if key is None or not key.is_good(shop.now()):
        return None, WRONG
    return (key, "") if asker_of(key).sees_costs else (None, TOO_LITTLE)


def _handed_on(request: Asked, then: str, kept: Form, token: str) -> Response[bytes]:
    """Answer a page with what was typed before the sign-in ended, to be sent once more."""
    fields = [(name, value) for name, values in kept.fields.items() for value in values]
    return page(request, "desk/signed-in.html", costs=True, then=then, kept=fields, token=token)


@serves_desk("POST", "/desk/sign-out")
async def sign_out(request: Asked) -> Response[bytes]:
    """End the sign-in, here and in the store."""
    await form_sent(request)
    await end(request.app.state.shop, request.cookies.get(COOKIE, ""))
    answer = go_to(SIGN_IN)
    answer.set_cookie(_cookie(request, "", max_age=0))
    return answer


def _cookie(request: Asked, word: str, max_age: int | None = None) -> Cookie:
    """Make the cookie: for the desk only, out of scripts' reach, sent along by no other site.

    It lives as long as the browser runs; when the sign-in ends is the store's to say.
    """
    return Cookie(
        key=COOKIE,
        value=word,
        path="/desk",
        max_age=max_age,
        httponly=True,
        samesite="strict",
        secure=request.scope["scheme"] == "https",
    )


def _safe(place: str) -> str:
    """Go on to a page of the desk only, wherever a link would like to lead."""
    return place if OF_THE_DESK.fullmatch(place) else "/desk"

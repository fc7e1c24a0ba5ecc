"""GET /assets: the files that pages load."""

from litestar import Response
from litestar.params import FromPath

from gramhour_service.http.problems import refused
from gramhour_service.http.site.serving import serves_page, told_with
from gramhour_service.http.wire import Asked, answered, tag_of_body
from gramhour_service.pages.assets import assets, version

FOR_EVER = "public, max-age=31536000, immutable"
ASK_AGAIN = "no-cache"


@serves_page("GET", "/assets/{digest:str}/{name:str}")
async def asset(request: Asked, digest: FromPath[str], name: FromPath[str]) -> Response[bytes]:
    """Answer a file; one that is asked under another digest may be newer, and is not kept."""
    found = assets().get(name)
    if found is None:
        raise refused("no-such-path", "no page has such a file")
    return answered(
        request,
        found.content,
        found.media_type,
        costs=False,
        tag=tag_of_body(found.content),
        headers=told_with(FOR_EVER if digest == version() else ASK_AGAIN),
    )

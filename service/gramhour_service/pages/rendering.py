"""From values to a page: the templates and what they can say.

A template puts texts into places and nothing else. Every name must be given, every text is
escaped, and no template computes (``tests/pages/test_figures.py`` looks).
"""

from functools import cache

from jinja2 import Environment, PackageLoader, StrictUndefined

from gramhour_service.pages import assets, texts
from gramhour_service.pages.desk import texts as desk_texts
from gramhour_service.pages.desk.forms import key_of
from gramhour_service.pages.desk.places import in_words, place_said
from gramhour_service.pages.desk.rate_shown import rate_called, rate_place, rate_said
from gramhour_service.pages.desk.sources import source_of


@cache
def _environment() -> Environment:
    environment = Environment(
        loader=PackageLoader("gramhour_service", "pages/templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.globals["asset"] = assets.address
    for said in (in_words, key_of, place_said, rate_called, rate_place, rate_said, source_of):
        environment.globals[said.__name__] = said
    environment.filters |= texts.FILTERS | desk_texts.FILTERS
    return environment


def rendered(template: str, **values: object) -> bytes:
    """Write a page."""
    return _environment().get_template(template).render(values).encode()

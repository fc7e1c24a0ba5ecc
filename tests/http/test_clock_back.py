"""A clock that is set back a day: quotes go on, history goes on, nothing is rewritten or lost."""

from contextlib import closing
from datetime import timedelta
from pathlib import Path

from gramhour_service.http.examples import HERB_PLANTER
from gramhour_service.http.settings import Settings
from gramhour_service.store.copies import look_over
from gramhour_service.store.opening import open_store
from gramhour_service.store.rates import newest_revision
from tests.http.asking import DEARER, LABOUR, change, put, seen, tag_of, value_of
from tests.http.door import NOW, opened

DAY = timedelta(days=1)


def test_a_clock_that_is_set_back_a_day_stops_nothing(own_path: Path) -> None:
    with opened(Settings(store=own_path), lambda: NOW + 5 * DAY) as door:
        assert change(door, DEARER, word="first").status_code == 201
        assert put(door, LABOUR, "40", seen(tag_of(door, LABOUR))).status_code == 200
        before = door.ask("POST", "/v1/quotes", "cost", json=HERB_PLANTER).json()
    with opened(Settings(store=own_path), lambda: NOW + 4 * DAY) as door:
        assert door.ask("GET", "/health").status_code == 200
        pinned = {"rates_revision": before["rates_revision"], "rates_on": before["rates_on"]}
        asked = {**HERB_PLANTER, **pinned, "from": before["lead_time"]["from"]}
        again = door.ask("POST", "/v1/quotes", "cost", json=asked)
        assert again.status_code == 200, again.text
        assert again.json()["breaks"] == before["breaks"]
        assert put(door, LABOUR, "41", seen(tag_of(door, LABOUR))).status_code == 200
        assert value_of(door, LABOUR) == "41"
    with closing(open_store(own_path)) as store:
        assert newest_revision(store) == 4
    assert look_over(own_path).faults == ()

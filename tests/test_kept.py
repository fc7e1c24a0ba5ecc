"""What was made before is kept as long as it is used, and never more than so much of it."""

from gramhour_service.calculation.kept import LastMade


def test_what_is_used_goes_on_being_kept_whatever_else_is_made() -> None:
    kept = LastMade[int, object](10)
    first, other = kept.of(0, object), kept.of(-1, object)
    for n in range(1, 101):
        kept.of(n, object)
        assert kept.of(0, object) is first
        assert kept.found(-1) is other
        assert len(kept) <= 10


def test_what_is_not_used_is_forgotten() -> None:
    kept = LastMade[int, object](10)
    first = kept.of(0, object)
    for n in range(1, 11):
        kept.of(n, object)
    assert kept.found(0) is None
    assert kept.of(0, object) is not first

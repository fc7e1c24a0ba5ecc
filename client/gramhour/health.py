"""What a service says of itself."""

from gramhour.contract.members import Answered


class Health(Answered, frozen=True, kw_only=True):
    """The service is ready. ``rules`` is the version of its calculation.

    ``rates`` says whether it has stored ones to price with: ``stored`` or ``none``.
    """

    status: str
    rules: str
    rates: str

"""What a service says of itself."""

from typing import Annotated, Literal

from gramhour.contract.members import Answered, one_of


class Health(Answered, frozen=True, kw_only=True):
    """The service is ready. ``rules`` is the version of its calculation.

    ``rates`` says whether it has stored ones to price with.
    """

    status: Annotated[str, one_of(Literal["ready"])]
    rules: str
    rates: Annotated[str, one_of(Literal["stored", "none"])]

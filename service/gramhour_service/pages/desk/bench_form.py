"""The form of the quote bench: a quote request, without a rate sheet of its own."""

from gramhour.contract.request import QuoteRequest
from gramhour_service.pages.desk.plan import Member, plan_of

REQUEST = Member(
    name="",
    label="what is quoted",
    says="",
    unit="",
    kind="section",
    is_required=True,
    default="",
    within=tuple(each for each in plan_of(QuoteRequest) if each.name != "rates"),
)

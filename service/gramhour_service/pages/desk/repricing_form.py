"""The forms of the repricing day: which listings, by which rates; and what to apply of it."""

from gramhour.contract.repricing import RepricingRequest
from gramhour_service.pages.desk.plan import Member, plan_of

LEFT_OUT = ("proposed", "skus")

ASKED = Member(
    name="",
    label="which prices",
    says="",
    unit="",
    kind="section",
    is_required=True,
    default="",
    within=tuple(each for each in plan_of(RepricingRequest) if each.name not in LEFT_OUT),
)

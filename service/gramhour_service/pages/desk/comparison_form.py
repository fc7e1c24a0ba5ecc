"""The form of a comparison: a product and the ways to make it, without rates of its own."""

from gramhour.contract.comparison import ComparisonRequest
from gramhour_service.pages.desk.plan import Member, plan_of

REQUEST = Member(
    name="",
    label="what is compared",
    says="",
    unit="",
    kind="section",
    is_required=True,
    default="",
    within=tuple(each for each in plan_of(ComparisonRequest) if each.name != "rates"),
)
BEGIN = {
    "quantities": [1, 10, 50],
    "up_to": 50,
    "alternatives": [{"label": "as described"}, {"label": "another way", "pieces": [{}]}],
}
"""What a comparison begins with: the way it is made today, and one more."""

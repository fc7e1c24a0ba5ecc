"""What the members of an answer are called where people read them."""

from gramhour.contract.members import CODE_FORM, SKU_FORM

A_CODE = f"Give {CODE_FORM}."
A_SKU = f"A sku must be {SKU_FORM}."

LINES = {
    "feedstock": "feedstock",
    "components": "components",
    "machine": "machine time",
    "energy": "energy",
    "nozzle_wear": "nozzle wear",
    "labour": "labour",
    "scrap": "scrap",
    "rejects": "rejects",
    "packaging": "packaging",
    "design": "design",
    "material_overhead": "material overhead",
    "production_overhead": "production overhead",
    "admin_overhead": "admin overhead",
}
FEES = {
    "channel": "channel fee",
    "payment": "payment fee",
    "fixed": "fixed fees",
    "postage": "postage paid",
    "design_share": "design share",
}
FLAGS = {
    "minimum_order_applied": "the minimum order counts",
    "above_smaller_break": "a smaller quantity costs less a unit",
    "next_total_is_lower": "a larger order costs less in all",
    "postage_pays_for_goods": "what is charged for postage pays for goods",
    "below_margin_floor": "below the margin floor",
    "below_cost": "below cost",
    "differs_from_listing": "differs from the listed price",
}
BARELY_MOVED = (
    "Up or down by 0.00 %: prices move by 0.005 % at most, or rise from 0, or only what is left of "
    "them after tax moves."
)
COUNTS = {
    "up": "go up",
    "down": "go down",
    "new": "are new",
    "unchanged": "stay",
    "held": "held, as their listings say",
    "failed": "failed",
    "under_floor": "under their margin floor",
    "under_floor_if_kept": "under it at the old price",
}
KINDS = {
    "materials": "filaments",
    "nozzles": "nozzles",
    "machines": "printers",
    "components": "bought-in parts",
    "channels": "sales channels",
    "profiles": "print profiles",
    "services": "services",
    "shop": "the whole shop",
}


def said(words: dict[str, str], name: str) -> str:
    """Say what something is called; a word that is newer than this table as it stands."""
    return words.get(name, name.replace("_", " "))

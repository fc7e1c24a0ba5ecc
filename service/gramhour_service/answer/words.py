"""What the figures of an answer are called, in plain words."""

COST_LINES = {
    "feedstock": "Feedstock",
    "components": "Components",
    "machine": "Machine time",
    "energy": "Energy",
    "nozzle_wear": "Nozzle wear",
    "labour": "Labour",
    "scrap": "Scrap (failed builds)",
    "rejects": "Rejects (made again)",
    "packaging": "Packaging",
    "design": "Design",
    "material_overhead": "Material overhead",
    "production_overhead": "Production overhead",
    "admin_overhead": "Administration",
}
FEES = {
    "channel": "Channel fee",
    "payment": "Payment fee",
    "fixed": "Fixed fees",
    "postage": "Postage paid",
    "design_share": "Designer's share",
}
FIGURES = {
    **{f"cost.{line}": name for line, name in COST_LINES.items()},
    "cost.total": "Cost of the order",
    "unit_cost": "Cost of a unit",
    "raw_unit_price": "Unit price before rounding",
    "unit_price": "Unit price",
    "order_goods": "Goods",
    "order_postage": "Postage",
    "order_net": "Net of tax",
    "order_tax": "Tax",
    "order_gross": "Total to pay",
    "unit_price_net": "Unit price net of tax",
    **{f"fees.{fee}": name for fee, name in FEES.items()},
    "fees.total": "Fees of the order",
    "profit": "Profit",
    "margin_pct": "Margin, % of net",
    "markup_pct": "Markup, % of cost",
    "contribution_per_machine_hour": "Contribution per machine hour",
    "contribution_per_labour_hour": "Contribution per labour hour",
}
USED = {
    "feedstock_g": "Grams",
    "machine_h": "Machine hours",
    "machine_h_by": "Machine hours",
    "build_starts": "Builds started",
    "labour_min": "Minutes of people's work",
    "energy_kwh": "Kilowatt-hours",
}


def figure_name(figure: str) -> str:
    """Name a figure of an explanation: money, a ratio, what the order takes, or a flag."""
    part, _, name = figure.partition(".")
    if part == "use":
        total, _, code = name.partition(".")
        return f"{USED[total]}, {code}" if code else USED[total]
    if part == "flags":
        return f"Flag {name}, raised on"
    return FIGURES[figure]

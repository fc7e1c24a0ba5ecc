"""What is said of an answer on the screen, in plain words."""

FLAGS = {
    "minimum_order_applied": "The goods come below the channel's minimum order, which is charged.",
    "postage_pays_for_goods": (
        "The aim is met before the goods are paid for, as a rule by the postage: "
        "the price is the smallest one allowed."
    ),
    "below_margin_floor": "The margin is below the channel's floor.",
    "below_cost": "Sold at a loss: cost and fees are more than the net.",
    "above_smaller_break": "A smaller quantity has a lower unit price.",
    "next_total_is_lower": "The next quantity costs the buyer less in all.",
}
TAX = "The tax arithmetic is shown; whether a rate applies is for you or a tax adviser to decide."


def counted(number: int, thing: str) -> str:
    """Write a number of things."""
    return f"{number} {thing}" if number == 1 else f"{number} {thing}s"

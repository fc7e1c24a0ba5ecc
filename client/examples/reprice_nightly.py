"""Reprices all listings, for a nightly job: python reprice_nightly.py [--apply]

Ends with 1 if something fell under its floor, and says what. With --apply new prices are listed,
but for those that would stand under their floor, and those that move by more than 30 per cent:
a person looks at these. GRAMHOUR_URL and GRAMHOUR_KEY say where; the key needs scope listings.
"""

import os
import sys
from collections.abc import Iterable
from decimal import Decimal

from gramhour import Client, GramhourError, RepricingLine

MOST_PCT = 30


def shown(line: RepricingLine) -> str:
    """Say in a line what a listing costs, and would."""
    steps = [
        f"{each.from_quantity}: {each.old_unit_price or '-'} -> {each.unit_price}"
        f" (least margin {each.least_margin_if_kept_pct or '-'} -> "
        f"{each.least_margin_pct or '-'} %)"
        for each in line.breaks
    ]
    return f"{line.sku}, {line.channel}: {line.outcome}; from {', '.join(steps)}"


def told(title: str, lines: Iterable[RepricingLine]) -> bool:
    """Show some lines under a title; say whether there are any."""
    found = [f"  {shown(line)}" for line in lines]
    if found:
        print(title, *found, sep="\n")
    return bool(found)


def main(*, applies: bool) -> bool:
    """Reprice; say whether all is well."""
    with Client(url=os.environ["GRAMHOUR_URL"], key=os.environ["GRAMHOUR_KEY"]) as client:
        run = client.wait_for(client.reprice(over="all", note="nightly").id)
        lines = list(client.all_repricing_lines(run.id))
        under = [line for line in lines if line.under_floor]
        large = [line for line in lines if abs(line.change_pct or Decimal(0)) > MOST_PCT]
        fell = under if applies else [line for line in lines if line.under_floor_if_kept]
        if applies:
            applied = client.apply(run.id, except_={line.sku for line in [*under, *large]})
            print(f"{applied.applied} prices listed, {applied.left_out} left out")
        told(f"Moves by more than {MOST_PCT} %, look at it:", large)
        failed = told("No price:", (line for line in lines if line.outcome == "failed"))
        return not told("Under its floor:", fell) and not failed


if __name__ == "__main__":
    try:
        sys.exit(0 if main(applies="--apply" in sys.argv[1:]) else 1)
    except GramhourError as error:
        sys.exit(str(error))

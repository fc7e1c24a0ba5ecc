"""Writes a price list to print: python price_list.py own-shop "Desk and balcony" > prices.html

What is listed on a channel today, on A4 pages whose headings repeat. GRAMHOUR_URL and GRAMHOUR_KEY
say where; without a key it is what public quoting shows.
"""

import os
import sys
from datetime import date
from html import escape

from gramhour import Client, GramhourError, PriceItem

PAGE = """<!DOCTYPE html>
<html lang="en"><head><meta charset="utf-8"><title>{title}</title><style>
@page {{ size: A4; margin: 18mm }}
body {{ font: 10.5pt/1.4 sans-serif; max-width: 44em }}
table {{ border-collapse: collapse; width: 100% }}
thead {{ display: table-header-group }}
tr {{ break-inside: avoid; border-bottom: .5pt solid #999 }}
th, td {{ padding: .3em .6em .3em 0; text-align: left; vertical-align: top }}
.price {{ text-align: right; font-variant-numeric: tabular-nums; white-space: nowrap }}
</style></head><body><h1>{title}</h1><p>{says}</p>
<table><thead><tr><th>No.</th><th>What</th><th class="price">From</th><th class="price">Each, \
{currency}</th></tr></thead>
<tbody>{rows}</tbody></table></body></html>"""


def row(item: PriceItem) -> str:
    """Write an item, a line for each of its quantities."""
    quantities = "<br>".join(str(each.from_quantity) for each in item.breaks)
    prices = "<br>".join(str(each.unit_price) for each in item.breaks)
    cells = f'<td class="price">{quantities}</td><td class="price">{prices}</td>'
    return f"<tr><td>{escape(item.sku)}</td><td>{escape(item.name)}</td>{cells}</tr>"


def main(channel: str, title: str) -> str:
    """Make the list of today."""
    key = os.environ.get("GRAMHOUR_KEY")
    with Client(url=os.environ["GRAMHOUR_URL"], key=key) as client:
        told = client.prices(channel, limit=1)
        on = told.prices_on  # in the shop, wherever this runs; an older service does not tell it
        today = on if isinstance(on, date) else date.today()  # noqa: DTZ011
        listed: dict[str, PriceItem] = {}
        for item in sorted(client.all_prices(channel), key=lambda each: each.valid_from):
            if item.valid_from <= today:  # what is planned is not printed
                listed[item.sku] = item
    rows = [row(item) for _, item in sorted(listed.items()) if item.breaks]
    tax = "with" if told.prices_include_tax else "without"
    least = f" Orders come to {told.minimum_order} at least." if told.minimum_order else ""
    says = f"Prices of {today:%d %B %Y}, in {told.currency}, {tax} tax.{least}"
    return PAGE.format(title=escape(title), says=says, currency=told.currency, rows="\n".join(rows))


if __name__ == "__main__":
    try:
        print(main(sys.argv[1], sys.argv[2] if len(sys.argv) > 2 else "Price list"))  # noqa: PLR2004
    except GramhourError as error:
        sys.exit(str(error))

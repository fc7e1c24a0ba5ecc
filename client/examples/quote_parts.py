"""Quotes a list of parts: python quote_parts.py parts.csv quotes.csv

Headings are the names of /v1/unit-price (material, mass_g, machine, print_min, channel, quantity,
or sku and quantity); columns of your own are kept. The rows come back with what they cost. Started
again after an interruption, it goes on where it was. GRAMHOUR_URL and GRAMHOUR_KEY say where.
"""

import csv
import io
import os
import sys
from pathlib import Path

from gramhour import BatchAnswer, Client, GramhourError
from gramhour.contract.one_piece import name_of_fault, named_columns, one_piece_request

RESULTS = ["unit_price_asked", "unit_cost", "margin", "error"]


def told(answer: BatchAnswer) -> list[str]:
    """Say what came of a row, in the columns of the results."""
    if answer.quote:
        asked = answer.quote.at_quantity
        return [str(asked.unit_price), str(asked.unit_cost), str(asked.margin_pct or ""), ""]
    faults = answer.problem.errors if answer.problem else []
    words = [f"{name_of_fault(each.pointer or '') or 'row'}: {each.detail}" for each in faults]
    return ["", "", "", "; ".join(words)]


def main(parts: Path, quotes: Path) -> None:
    """Quote what is not quoted yet."""
    head, *rows = csv.reader(io.StringIO(parts.read_text("utf-8-sig")))
    names = named_columns(head)
    before = quotes.read_text("utf-8") if quotes.exists() else ""
    whole = before[: before.rfind("\n") + 1]  # the last line may be torn
    done = list(csv.reader(io.StringIO(whole)))[1:]
    if [row[: len(head)] for row in done] != rows[: len(done)]:
        sys.exit(f"{quotes} has quotes of other parts: name another file, or remove it")
    left = (zip(names, row, strict=True) for row in rows[len(done) :])
    filled = ({name: cell for name, cell in row if name and cell} for row in left)
    requests = (one_piece_request(each) | {"breaks": []} for each in filled)
    client = Client(url=os.environ["GRAMHOUR_URL"], key=os.environ["GRAMHOUR_KEY"])
    with quotes.open("a", encoding="utf-8", newline="") as to, client:
        to.truncate(len(whole.encode()))
        writer = csv.writer(to, lineterminator="\n")
        writer.writerows([] if whole else [[*head, *RESULTS]])
        for number, answer in enumerate(client.quote_many(requests), start=len(done)):
            writer.writerow([*rows[number], *told(answer)])
            if sys.stderr.isatty():
                print(f"\r{number + 1} of {len(rows)}", end="", file=sys.stderr)
    print(f"Rows: {len(rows)}; quoted before: {len(done)}", file=sys.stderr)


if __name__ == "__main__":
    try:
        main(Path(sys.argv[1]), Path(sys.argv[2]))
    except (GramhourError, ValueError, OSError) as error:
        sys.exit(f"{error}\nWhat was quoted is kept; start it again to go on.")

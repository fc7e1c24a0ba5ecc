// Lets a table be sorted by a column: for <table class="sortable"> each <th> with a <button> in it.
// A cell is compared by the `value` of a <data> in it, by the day of a <time>, else by its text.
// A row of the class "under" tells more of the one above, and stays below it.

const words = new Intl.Collator(undefined, { numeric: true, sensitivity: "base" });

function keyOf(cell) {
  const told = cell.querySelector("data, time");
  if (told === null) return cell.textContent.trim();
  return told.value ?? told.dateTime;
}

function compared(one, other) {
  const numbers = [Number(one), Number(other)];
  if (one === "" || other === "" || numbers.some(Number.isNaN)) return words.compare(one, other);
  return numbers[0] < numbers[1] ? -1 : numbers[0] > numbers[1] ? 1 : 0;
}

function withUnder(row) {
  const next = row.nextElementSibling;
  return next?.matches(".under") ? [row, next] : [row];
}

export function sortBy(table, column, direction) {
  const factor = direction === "descending";
  for (const body of table.tBodies) {
    const lines = [...body.rows].filter((row) => !row.matches(".under"));
    const rows = lines.map((row) => [keyOf(row.cells[column]), withUnder(row)]);
    rows.sort((a, b) => (factor ? compared(b[0], a[0]) : compared(a[0], b[0])));
    body.append(...rows.flatMap(([, together]) => together));
  }
  for (const head of table.tHead.rows[0].cells) head.removeAttribute("aria-sort");
  table.tHead.rows[0].cells[column].setAttribute("aria-sort", direction);
}

document.addEventListener("click", (event) => {
  const head = event.target.closest("table.sortable thead th");
  if (head === null || event.target.closest("button") === null) return;
  const next = head.getAttribute("aria-sort") === "ascending" ? "descending" : "ascending";
  sortBy(head.closest("table"), head.cellIndex, next);
});

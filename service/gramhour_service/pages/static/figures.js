// Writes amounts and numbers as the reader's country does. Formatting only: each figure is the
// text that the service gave, which stays in its `value`; nothing is computed or rounded.

const locales = navigator.languages;

export function writeFigures(within) {
  for (const each of within.querySelectorAll("data.money")) {
    const digits = each.value.split(".")[1]?.length ?? 0;
    const format = new Intl.NumberFormat(locales, {
      style: "currency",
      currency: each.dataset.currency,
      minimumFractionDigits: digits,
      maximumFractionDigits: digits,
    });
    each.textContent = format.format(each.value); // a text is read exactly, not through a float
  }
  for (const each of within.querySelectorAll("data.number")) {
    const digits = each.value.split(".")[1]?.length ?? 0;
    const format = new Intl.NumberFormat(locales, {
      minimumFractionDigits: digits,
      maximumFractionDigits: digits,
    });
    each.textContent = format.format(each.value);
  }
}

writeFigures(document);

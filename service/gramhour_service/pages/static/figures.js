// Writes amounts and numbers as the reader's country does. Formatting only: each figure is the
// text that the service gave, which stays in its `value`; nothing is computed or rounded.

const locales = navigator.languages;

function written(value, options) {
  const digits = value.split(".")[1]?.length ?? 0;
  const exact = { ...options, minimumFractionDigits: digits, maximumFractionDigits: digits };
  return new Intl.NumberFormat(locales, exact).format(value); // a text is read exactly
}

export function writeFigures(within) {
  for (const each of within.querySelectorAll("data.money, text[data-currency]")) {
    const { value = each.value, currency } = each.dataset;
    each.textContent = written(value, { style: "currency", currency });
  }
  for (const each of within.querySelectorAll("data.number, text[data-number]")) {
    each.textContent = written(each.dataset.number ?? each.value, {});
  }
}

writeFigures(document);

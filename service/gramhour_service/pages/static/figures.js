// Writes amounts and numbers as the reader's country does. Formatting only: each figure is the
// text that the service gave, which stays in its `value`; nothing is computed or rounded.

const locales = navigator.languages;

function written(value, options) {
  const digits = value.split(".")[1]?.length ?? 0;
  const exact = { ...options, minimumFractionDigits: digits, maximumFractionDigits: digits };
  return new Intl.NumberFormat(locales, exact).format(value); // a text is read exactly
}

const WAYS = [{}, { style: "currency", currency: "EUR" }]; // some countries group money alone

export function groupsByPoints() {
  return WAYS.some((way) => new Intl.NumberFormat(locales, way).formatToParts(1234567)
    .some((part) => part.type === "group" && part.value === "."));
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

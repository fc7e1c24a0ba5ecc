// What makes the desk quick: quotes while one types, reasons that open, texts to copy, how far a
// run is. Without it every page works by its buttons. Nothing is computed here: the service writes
// the changing part of a page, and this puts it in place.

import { groupsByPoints, writeFigures } from "./figures.js";

const PART = { "X-Desk-Part": "true" };
const WAIT = 350;
const opened = new Set();

function enhance(within) {
  writeFigures(within);
  writeMoments(within);
  within.querySelectorAll("table[data-reasons] tr.why").forEach(foldReason);
  within.querySelectorAll("[data-copies]").forEach((button) => { button.hidden = false; });
}

// Instants are written by the reader's clock, in the page's language as its days are. The day of a
// rate or a price is a day, whatever it is; machines run by the shop's clock.
const MOMENT = { weekday: "short", day: "numeric", month: "short", year: "numeric",
  hour: "2-digit", minute: "2-digit" };

function writeMoments(within) {
  const format = new Intl.DateTimeFormat("en-GB", MOMENT);
  for (const each of within.querySelectorAll("time[datetime*='T']:not(.at-the-shop)")) {
    each.textContent = format.format(new Date(each.dateTime));
  }
}

function foldReason(reason) {
  const line = reason.previousElementSibling;
  const head = line.querySelector("th");
  const figure = line.dataset.figure;
  const button = document.createElement("button");
  button.type = "button";
  button.className = "why";
  button.append(...head.childNodes);
  button.setAttribute("aria-controls", reason.id);
  head.append(button);
  const show = (isOpen) => {
    reason.hidden = !isOpen;
    button.setAttribute("aria-expanded", String(isOpen));
    opened[isOpen ? "add" : "delete"](figure);
  };
  show(opened.has(figure));
  button.addEventListener("click", () => show(reason.hidden));
}

function markFaults(within) {
  for (const each of document.querySelectorAll("[data-marked]")) {
    each.removeAttribute("aria-invalid");
    each.removeAttribute("data-marked");
  }
  for (const link of within.querySelectorAll(".faults a[href^='#']")) {
    const field = document.getElementById(link.hash.slice(1));
    if (field === null || !field.matches("input, select, textarea")) continue;
    field.setAttribute("aria-invalid", "true");
    field.setAttribute("data-marked", "");
    field.setAttribute("aria-errormessage", link.parentElement.id);
  }
}

function live(form) {
  const target = document.querySelector(form.dataset.live);
  let timer = 0;
  let asking = new AbortController();

  async function ask() {
    asking.abort();
    const unclear = [...form.elements].find((each) => each.validity.customError);
    if (unclear) return tell(target, unclear.validationMessage);
    asking = new AbortController();
    target.setAttribute("aria-busy", "true");
    target.classList.add("waiting");
    try {
      const answer = await fetch(form.getAttribute("action"), {
        method: "POST",
        headers: PART,
        body: new URLSearchParams(new FormData(form)),
        signal: asking.signal,
      });
      const text = await answer.text();
      if (answer.ok) put(target, text);
      else tell(target, trouble(answer.status));
    } catch (error) {
      if (error.name === "AbortError") return;
      tell(target, trouble(0));
    }
    target.removeAttribute("aria-busy");
    target.classList.remove("waiting");
  }

  form.addEventListener("input", (event) => {
    if (event.target.closest("[data-quiet]") !== null) return;
    clearTimeout(timer);
    timer = setTimeout(ask, WAIT);
  });
}

function put(target, text) {
  const part = new DOMParser().parseFromString(text, "text/html");
  target.replaceChildren(...part.body.childNodes);
  enhance(target);
  markFaults(target);
}

const TROUBLES = {
  401: "Your sign-in has ended. Sign in again in another tab, then go on here: what you typed is kept.",
  403: "This page belongs to an earlier sign-in. Press its button to go on; what you typed is kept.",
  0: "The service does not answer. What you typed is kept; try again in a moment.",
};

function trouble(status) {
  return TROUBLES[status] ?? "The service could not answer this; try again.";
}

function tell(target, says) {
  const told = document.createElement("p");
  told.className = "care";
  told.setAttribute("role", "alert");
  told.textContent = says;
  target.querySelectorAll(":scope > [role=alert].care").forEach((each) => each.remove());
  target.prepend(told);
}

async function follow(target) {
  const answer = await fetch(target.dataset.follows, { headers: PART });
  if (!answer.ok) return tell(target, trouble(answer.status));
  const text = await answer.text();
  const part = new DOMParser().parseFromString(text, "text/html");
  const next = part.querySelector("[data-follows]");
  if (next === null) return location.reload();
  target.replaceChildren(...next.childNodes);
  setTimeout(follow, 1000, target);
}

document.addEventListener("click", async (event) => {
  const button = event.target.closest("[data-copies]");
  if (button === null) return;
  const source = document.querySelector(button.dataset.copies);
  source.select();
  try {
    await navigator.clipboard.writeText(source.value);
    button.textContent = "Copied";
  } catch {
    button.textContent = "Selected: copy it with the keyboard";
  }
});

// A link to a field within something closed opens it, and leads the keyboard there.
document.addEventListener("click", (event) => {
  const link = event.target.closest("a[href^='#']");
  const field = link && document.getElementById(link.hash.slice(1));
  if (!field) return;
  for (let each = field; each !== null; each = each.parentElement) {
    if (each.localName === "details") each.open = true;
  }
  field.focus();
});

// Where thousands are written with points, 1.500 may be either: who types it is asked, as the service
// asks of 1,500. What stood in the field already is as the documents have it.
const EITHER = /^(-?[1-9][0-9]{0,2})\.([0-9]{3})$/;

function asksWhich(text) {
  const found = groupsByPoints() && EITHER.exec(text);
  if (!found) return "";
  const [, whole, rest] = found;
  const decimals = rest.replace(/0+$/, "");
  const small = decimals.length === 3 ? `${whole}.${decimals}0` : [whole, decimals].join(".");
  return `${text} may be ${small.replace(/\.$/, "")} or ${whole}${rest}: write the one that you mean`;
}

document.addEventListener("input", (event) => {
  const field = event.target;
  if (field.inputMode === "decimal") field.setCustomValidity(asksWhich(field.value.trim()));
}, true); // before a quote is asked for

// What was typed and not sent is not lost by a click elsewhere: the browser asks first.
let isTyped = false;
document.addEventListener("input", (event) => {
  if (event.target.form?.method === "post") isTyped = true;
});
document.addEventListener("submit", (event) => {
  if (event.target.method === "post") isTyped = false;
});
window.addEventListener("beforeunload", (event) => {
  if (isTyped) event.preventDefault();
});

enhance(document);
document.querySelectorAll("form[data-live]").forEach(live);
document.querySelectorAll("[data-follows]").forEach((target) => setTimeout(follow, 600, target));
for (const faults of document.querySelectorAll(".faults[tabindex]")) faults.focus();

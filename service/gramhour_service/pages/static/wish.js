// Completes the sentence as it is written: asks the same page again and puts its answer in place.
// Without this script the form does the same by its button. No figure is made here.

import { writeFigures } from "./figures.js";

const PATIENCE = 350; // milliseconds without a keystroke
const form = document.querySelector("#wish");
let waiting;
let asking;

function addressOf(form) {
  const address = new URL(form.action);
  address.search = new URLSearchParams(new FormData(form));
  return address;
}

async function ask() {
  asking?.abort();
  asking = new AbortController();
  const address = addressOf(form);
  document.querySelector("#answer").classList.add("waiting");
  try {
    const answer = await fetch(address, { headers: { Accept: "text/html" }, signal: asking.signal });
    show(new DOMParser().parseFromString(await answer.text(), "text/html"));
    history.replaceState(null, "", address);
  } catch (error) {
    if (error.name !== "AbortError") tell("The service does not answer; try again.");
  } finally {
    document.querySelector("#answer").classList.remove("waiting");
  }
}

function offerCopying(within) {
  for (const button of within.querySelectorAll("button[data-copies]")) {
    button.hidden = false;
    button.addEventListener("click", async () => {
      const told = within.querySelector(button.dataset.copies);
      told.select(); // so that it can be copied by hand where a page may not do it
      await navigator.clipboard?.writeText(told.value);
      button.textContent = navigator.clipboard ? "Copied" : "Marked: copy it now";
      tell(button.textContent);
    });
  }
}

function offerMore(within) {
  for (const link of within.querySelectorAll("a[data-quantity]")) {
    link.addEventListener("click", (event) => {
      event.preventDefault();
      form.elements.quantity.value = link.dataset.quantity;
      form.elements.quantity.focus();
      ask();
    });
  }
}

function show(page) {
  const answer = page.querySelector("#answer");
  if (answer === null) return tell(page.querySelector(".faults")?.textContent.trim() ?? "");
  writeFigures(answer);
  offerCopying(answer);
  offerMore(answer);
  document.querySelector("#answer").replaceWith(answer);
  showFaults(page.querySelector("#wish"));
  tell(document.querySelector("#said")?.textContent ?? form.querySelector(".fault, .faults")?.textContent ?? "");
}

function showFaults(told) {
  for (const each of form.querySelectorAll(".fault, .faults")) each.remove();
  for (const each of form.querySelectorAll("[aria-invalid]")) {
    each.removeAttribute("aria-invalid");
    each.removeAttribute("aria-describedby");
  }
  for (const each of told.querySelectorAll("[aria-invalid]")) {
    const field = form.elements.namedItem(each.name);
    field.setAttribute("aria-invalid", "true");
    field.setAttribute("aria-describedby", each.getAttribute("aria-describedby"));
  }
  form.querySelector(".sentence").after(...told.querySelectorAll(".fault, .faults"));
}

function tell(says) {
  document.querySelector("#heard").textContent = says;
}

function later() {
  clearTimeout(waiting);
  waiting = setTimeout(() => form.elements.quantity.value && ask(), PATIENCE);
}

offerCopying(document);
offerMore(document);
form?.addEventListener("input", later);
form?.addEventListener("submit", (event) => {
  event.preventDefault();
  clearTimeout(waiting);
  ask();
});

// Completes the sentence as it is written: asks the same page again and puts its answer in place.
// Without this script the form does the same by its button. No figure is made here.

import { writeFigures } from "./figures.js";

const PATIENCE = 350; // milliseconds without a keystroke
const KEPT = ["measurement", "name"]; // what a file was measured as, asked with again
const form = document.querySelector("#wish");
const heard = document.querySelector("#heard");
let waiting;
let asking;
let measured; // the file that the kept measurement is of

function asked() {
  const told = new FormData(form);
  if (form.method !== "post") {
    const address = new URL(form.action);
    address.search = new URLSearchParams(told);
    return [address, {}];
  }
  if (chosen() !== undefined && chosen() === measured) told.delete("file");
  return [form.action, { method: "POST", body: told }];
}

function chosen() {
  return form.elements.file?.files[0];
}

async function ask() {
  asking?.abort();
  asking = new AbortController();
  const [address, more] = asked();
  const file = chosen();
  form.setAttribute("aria-busy", "true");
  if (more.body?.get("file")?.name) tell("Your file is being measured.");
  try {
    const told = { headers: { Accept: "text/html" }, signal: asking.signal, ...more };
    const answer = await fetch(address, told);
    show(new DOMParser().parseFromString(await answer.text(), "text/html"), file);
    if (more.body === undefined) history.replaceState(null, "", address);
    form.removeAttribute("aria-busy");
  } catch (error) {
    if (error.name === "AbortError") return; // a later question took its place
    form.removeAttribute("aria-busy");
    tell("The service does not answer; try again.");
  }
}

function show(page, file) {
  const answer = page.querySelector("#answer");
  if (answer === null) return tell(page.querySelector(".faults")?.textContent.trim() ?? "");
  showPart(page, file);
  writeFigures(answer);
  offer(answer);
  document.querySelector("#answer").replaceWith(answer);
  showFaults(page.querySelector("#wish"));
  const says = document.querySelector("#said") ?? form.querySelector(".fault, .faults");
  tell(says?.textContent ?? "");
}

function showPart(page, file) {
  const told = page.querySelector("#part");
  if (told === null) return;
  for (const name of KEPT) form.elements[name].value = page.querySelector(`[name="${name}"]`).value;
  if (file !== undefined && file === measured && form.elements.measurement.value) return;
  measured = form.elements.measurement.value ? file : undefined;
  writeFigures(told);
  document.querySelector("#part").replaceWith(told);
  if (measured !== undefined) offerPreview(told.querySelector("section"));
}

function offerPreview(within) {
  const button = document.createElement("button");
  button.type = "button";
  button.className = "open";
  button.textContent = "Show it";
  button.addEventListener("click", () => preview(button));
  within.append(button);
}

async function preview(button) {
  const canvas = document.createElement("canvas");
  canvas.className = "preview";
  canvas.tabIndex = 0;
  canvas.setAttribute("role", "img");
  canvas.setAttribute("aria-label", "Your part. Turn it by dragging, or with the arrow keys.");
  button.replaceWith(canvas);
  try {
    const { draw } = await import("./preview.js");
    await draw(measured, canvas);
    canvas.focus();
  } catch {
    const says = document.createElement("p");
    says.textContent = "This browser cannot draw it. The price does not depend on that.";
    canvas.replaceWith(says);
  }
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

function offer(within) {
  for (const button of within.querySelectorAll("button[data-copies]")) {
    button.hidden = false;
    button.addEventListener("click", () => copy(button, within));
  }
  for (const link of within.querySelectorAll("a[data-quantity]")) {
    link.addEventListener("click", (event) => {
      event.preventDefault();
      form.elements.quantity.value = link.dataset.quantity;
      form.elements.quantity.focus();
      ask();
    });
  }
}

async function copy(button, within) {
  const told = within.querySelector(button.dataset.copies);
  told.select(); // so that it can be copied by hand where a page may not do it
  await navigator.clipboard?.writeText(told.value);
  button.textContent = navigator.clipboard ? "Copied" : "Marked: copy it now";
  tell(button.textContent);
}

function tell(says) {
  heard.textContent = says;
}

function isWhole() {
  return form.elements.quantity.value && (form.elements.file === undefined || chosen() || measured);
}

function later() {
  clearTimeout(waiting);
  waiting = setTimeout(() => isWhole() && ask(), PATIENCE);
}

if (form !== null) {
  offer(document);
  form.addEventListener("input", later);
  form.addEventListener("submit", (event) => {
    if (event.submitter?.hasAttribute("formaction")) return; // goes to another page
    event.preventDefault();
    clearTimeout(waiting);
    ask();
  });
}

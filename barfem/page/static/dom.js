// Elements without markup: text is always text, whatever a bar file is called.

/** An element with attributes, properties (on..., value, ...) and children. */
export function make(name, given = {}, ...children) {
  const made = document.createElement(name);
  fill(made, given, children);
  return made;
}

const SVG = "http://www.w3.org/2000/svg";

export function draw(name, given = {}, ...children) {
  const made = document.createElementNS(SVG, name);
  fill(made, given, children);
  return made;
}

function fill(made, given, children) {
  for (const [key, value] of Object.entries(given)) {
    if (value === undefined || value === null || (value === false && !key.startsWith("aria-"))) continue;
    if (key.startsWith("on")) made.addEventListener(key.slice(2), value);
    else if (key === "text") made.textContent = value;
    else if (key === "data") Object.assign(made.dataset, value);
    else made.setAttribute(key, value === true && !key.startsWith("aria-") ? "" : String(value));
  }
  made.append(...children.filter((child) => child !== null && child !== undefined));
}

export const at = (id) => document.getElementById(id);

const LASTS_MS = 6000;
let hide = 0, going = null;
/** A word that goes some time after the hand goes on: who reads slowly, or looks elsewhere, misses nothing of it. */
export function toast(words) {
  const place = at("toast");
  place.textContent = words;
  place.hidden = false;
  clearTimeout(hide);
  going?.abort();
  going = new AbortController();
  const goes = () => {
    going.abort();
    hide = setTimeout(() => { place.hidden = true; }, LASTS_MS);
  };
  for (const kind of ["pointerdown", "keydown"]) document.addEventListener(kind, goes, { signal: going.signal });
}

/** A question with buttons: resolves to the value of the one that is pressed, "" if it is closed. Enter is the chief one. */
export function dialog(title, body, buttons) {
  const box = at("dialog");
  at("dialog-title").textContent = title;
  at("dialog-body").replaceChildren(...body);
  at("dialog-buttons").replaceChildren(
    ...buttons.map(([value, words, chief]) => make("button", chief ? { type: "submit", value, text: words, class: "chief" }
      : { type: "button", text: words, onclick: () => box.close(value) })),
  );
  box.returnValue = "";
  box.showModal();
  return new Promise((resolve) => box.addEventListener("close", () => resolve(box.returnValue), { once: true }));
}

// The controls: for each key of the bar file a slider, the number beside it, and a mark where it differs from the file.

import { make } from "./dom.js";

/** Numbers as one writes them: no exponent, no more digits than tell them apart. */
export const shown = (value) => (typeof value === "number" ? String(Number(value.toPrecision(8))) : String(value));

/** What was typed, as the bar file would hold it: a number, or text with its unit. */
const typed = (text) => {
  const grouped = text.trim(), plain = /^[+-]?\d{1,3}(\s\d{3})+(\.\d*)?$/.test(grouped) ? grouped.replace(/\s/g, "") : grouped; // as the page prints
  const plainly = /^[+-]?(\d+\.?\d*|\.\d+)(e[+-]?\d+)?$/i.test(plain);
  return plainly && Number.isFinite(Number(plain)) ? Number(plain) : plain; // JSON has no infinity
};

/** The unit of a value that is text: "in" of "0.875 in". */
const unitOf = (value) => (typeof value === "string" && value.match(/^\s*[+-]?[\d./ ]*\d(?:e[+-]?\d+)?\s*([^\d\s].*)$/i)?.[1]) || "";

/** Whether a field holds what was begun and not yet given: an answer that comes meanwhile must not take it. */
export const halfTyped = (input) => input?.matches?.("input[type=text]") && input.value !== input.dataset.shown;

function put(input, text) {
  if (document.activeElement === input && halfTyped(input)) return;
  if (input.value !== text) input.value = text;
  input.dataset.shown = text;
}

export class Controls {
  /** `changed(values, mark)` is called with the keys that a control moves, `rested()` when a movement ends, and
      `forget(mark)` when it was none. */
  constructor(form, { changed, rested, forget, section }) {
    Object.assign(this, { form, changed, rested, forget, section, rows: new Map(), layout: "", shape: "" });
    form.addEventListener("submit", (event) => event.preventDefault());
  }

  /** `newer`: keys that were moved since this answer was asked for; their controls stay as the hand has them. */
  show({ fields, shape, holes }, newer = []) {
    this.holes = holes;
    const layout = JSON.stringify([shape, fields.map((f) => [f.key, f.label, f.choices, f.low, f.high])]);
    const built = layout !== this.layout;
    if (built) this.build(fields, shape);
    this.layout = layout;
    const moved = (field) => newer.some((key) => key === field.key || field.key.startsWith(`${key}.`) || field.also.some((other) => other.key === key));
    for (const field of fields) if (built || !moved(field)) this.update(field);
    this.count(shape);
    const less = document.getElementById("less-holes");
    if (less) less.disabled = !holes.less;
  }

  build(fields, shape) {
    const open = new Map([...this.form.querySelectorAll("details")].map((each) => [each.dataset.group, each.open]));
    const active = document.activeElement, focused = active?.id, half = halfTyped(active) ? active.value : null;
    this.rows.clear();
    const groups = new Map();
    for (const field of fields) {
      if (!groups.has(field.group)) groups.set(field.group, []);
      groups.get(field.group).push(field);
    }
    const wide = matchMedia("(min-width: 900px)").matches;
    const first = ["Section", "Shape", "Holes and ends", "Travel", "Steel and skin"];
    this.form.replaceChildren(...[...groups].map(([name, some]) => {
      const shut = open.has(name) ? !open.get(name) : !(wide ? first.includes(name) : name === "Section");
      const box = make("details", { data: { group: name }, open: !shut },
        make("summary", {}, make("span", { text: name }), make("span", { class: "moved", data: { moved: name } })));
      if (name === "Section") box.append(this.shapes(shape));
      box.append(...some.map((field) => this.row(field)));
      if (name === "Holes and ends") box.append(this.number());
      return box;
    }));
    const again = focused ? document.getElementById(focused) : null;
    again?.focus();
    if (again && half !== null) again.value = half;
  }

  shapes({ now: shape, was }) {
    const other = shape === "tube" ? "round" : "tube";
    const words = { round: "Solid", tube: "Tube" };
    const button = (name) => make("button", {
      type: "button", id: `shape-${name}`, text: words[name], "aria-pressed": name === shape, data: { shape: name },
      onclick: () => name !== shape && this.section(name, false),
    });
    return make("div", { class: `shapes${shape === was ? "" : " changed"}` },
      make("div", { class: "pair", role: "group", "aria-label": "Solid or tube", data: { key: "section.shape" } }, button("round"), button("tube")),
      shape === was ? null : make("span", { class: "was", text: `was ${words[was].toLowerCase()}` }),
      make("button", {
        type: "button", id: "equal", text: `${words[other]} of equal rate`, onclick: () => this.section(other, true),
      }));
  }

  number() {
    const button = (id, text, which) => make("button", {
      type: "button", id, text, onclick: () => this.holes[which] && this.changed(this.holes[which], null),
    });
    return make("div", { class: "row holes", role: "group", "aria-label": "Number of holes" },
      button("more-holes", "One hole more", "more"), button("less-holes", "One less", "less"));
  }

  row(field) {
    const id = `c-${encodeURIComponent(field.key)}`; // two holes may be called ä and ö
    const row = { field, last: null };
    const label = make("label", { for: id, text: field.label, title: field.about });
    row.mark = make("button", {
      type: "button", class: "was", hidden: true,
      onclick: () => this.move(row, row.field.was, null),
    });
    const head = make("div", { class: "name" }, label, row.mark);
    row.error = make("p", { class: "error", id: `${id}-error`, hidden: true });
    if (field.choices) {
      row.input = make("select", { id, data: { key: field.key }, onchange: () => this.choose(row) },
        ...field.choices.map((each) => make("option", { value: each, text: each })));
      row.box = make("div", { class: "control words" }, head, row.input, row.error);
    } else {
      row.input = make("input", {
        id, type: "text", inputmode: "text", spellcheck: "false", data: { key: field.key, shown: "" }, "aria-describedby": `${id}-unit ${row.error.id}`,
        onchange: () => { row.input.dataset.shown = row.input.value; this.move(row, this.given(row), null); },
        onkeydown: (event) => { if (event.key === "Escape") row.input.value = row.input.dataset.shown; },
      });
      row.unit = make("span", { class: "unit", id: `${id}-unit`, text: field.unit });
      row.slider = make("input", {
        type: "range", "aria-label": `${field.label}, slider`, data: { slider: field.key },
        min: field.low, max: field.high, step: field.step,
        onpointerdown: () => { row.before = row.slider.value; row.scrolls = false; },
        onpointercancel: () => this.scrolled(row),
        oninput: () => this.slide(row),
        onchange: () => this.rested(),
      });
      row.box = make("div", { class: "control" }, head,
        row.slider, make("span", { class: "number" }, row.input, row.unit), row.error);
    }
    this.rows.set(field.key, row);
    return row.box;
  }

  update(field) {
    const row = this.rows.get(field.key);
    if (!row) return;
    row.field = field;
    const text = shown(field.value);
    put(row.input, text);
    if (field.at !== null) this.place(row, field.at);
    if (row.slider) row.slider.setAttribute("aria-valuetext", `${text} ${typeof field.value === "number" ? field.unit : ""}`.trim());
    const differs = shown(field.value) !== shown(field.was);
    row.mark.hidden = !differs;
    row.mark.disabled = field.was === null;
    if (row.unit) row.unit.textContent = typeof field.value === "string" ? "" : field.unit;
    row.mark.textContent = differs ? `was ${shown(field.was ?? "not there")}` : "";
    row.mark.setAttribute("aria-label", differs ? `${field.label} ${row.mark.textContent}: back to that` : "");
    row.box.classList.toggle("changed", differs);
    this.wrong(field.key, null);
  }

  /** How many controls of each group are not as in the file. */
  count(shape) {
    for (const group of this.form.querySelectorAll("[data-moved]")) {
      const rows = [...this.rows.values()].filter(({ field }) => field.group === group.dataset.moved);
      const count = rows.filter(({ box }) => box.classList.contains("changed")).length
        + (group.dataset.moved === "Section" && shape.now !== shape.was);
      group.textContent = count ? `${count} changed` : "";
    }
  }

  /** Where a slider stands: where its number says, also while the keyboard is at it. */
  place({ field, slider }, value) {
    if (slider) slider.value = field.log ? Math.log10(value) : value;
  }

  /** Changes that are not answered yet: each control shows what it is asked to be, after undo as well. */
  follow(changes) {
    const whole = Object.keys(changes).filter((key) => typeof changes[key] === "object");
    for (const row of this.rows.values()) {
      const { field, input } = row;
      const value = field.key in changes ? changes[field.key] : field.was;
      if (value === null || value === undefined || whole.some((key) => field.key.startsWith(`${key}.`))) continue;
      put(input, shown(value));
      if (typeof value === "number") this.place(row, value);
    }
  }

  /** What is wrong at a control, or null. */
  wrong(key, words) {
    const row = this.rows.get(key);
    if (!row) return false;
    row.error.textContent = words || "";
    row.error.hidden = !words;
    row.box.classList.toggle("wrong", Boolean(words));
    row.input.setAttribute("aria-invalid", Boolean(words));
    if (words) row.box.closest("details").open = true;
    return true;
  }

  clear() { for (const key of this.rows.keys()) this.wrong(key, null); }

  /** The browser took the finger to scroll the page: where it was put down is no value. */
  scrolled(row) {
    row.scrolls = true;
    row.slider.value = row.before;
    this.forget(`slide ${row.field.key}`);
  }

  slide(row) {
    const { field } = row;
    if (row.scrolls) { row.slider.value = row.before; return; }
    const raw = Number(row.slider.value);
    const value = field.log ? Number((10 ** raw).toPrecision(3)) : Number(raw.toFixed(4));
    row.input.value = row.input.dataset.shown = shown(value);
    row.slider.setAttribute("aria-valuetext", `${shown(value)} ${field.unit}`);
    this.move(row, value, `slide ${field.key}`);
  }

  /** What was typed; a number alone in a field that the file holds in inches, and that shows them, is in inches too. */
  given({ field, input }) {
    const value = typed(input.value), unit = unitOf(field.value);
    return typeof value === "number" && unit && unit === unitOf(field.was) ? `${input.value.trim()} ${unit}` : value;
  }

  choose(row) {
    const value = row.input.value, { follow } = row.field;
    const more = follow && follow.values[value] ? { [follow.key]: follow.values[value] } : {};
    this.changed({ [row.field.key]: value, ...more }, null);
  }

  /** A value of the control, and of what moves with it. */
  move(row, value, mark) {
    const { field } = row;
    const values = { [field.key]: value };
    for (const other of field.also) {
      if (typeof value === "number") values[other.key] = other.factor * value;
      else values[other.key] = other.factor > 0 ? value : value.startsWith("-") ? value.slice(1) : `-${value}`;
    }
    this.changed(values, mark);
  }

  /** What stands in the file at a key, undefined where nothing does. */
  was(key) {
    for (const { field } of this.rows.values()) {
      if (field.was === null || field.was === undefined) continue;
      if (field.key === key) return field.was;
      const other = field.also.find((each) => each.key === key);
      if (other && typeof field.was === "number") return other.factor * field.was;
    }
    return undefined;
  }
}

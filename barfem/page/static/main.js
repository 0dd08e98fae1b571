// The page: what moves, what it asks, and what it shows of the answer.

import { Newest, ask } from "./ask.js";
import { Controls, halfTyped, shown } from "./controls.js";
import { at, dialog, make, toast } from "./dom.js";
import * as results from "./results.js";
import { Sketch, along } from "./sketch.js";
import { State, merged } from "./state.js";

const SOLVING_MS = 350; // an answer that takes longer solves a field: say so
const VIEW_MS = 150; // the view follows when the hand pauses: it takes longer than a check
const COUNT_MS = 1000; // between two looks at how far a tolerance band is
const IDLE_MS = 900; // advice is asked for when the hand rests

let last = null; // the last good answer
let chosen = ""; // case and hole in the view
let scene = null;
let view = null;
let timers = {};

const body = () => ({ changes: state.changes });
const same = (question) => JSON.stringify(question.changes) === JSON.stringify(state.changes);

const busy = (on) => {
  at("answer").setAttribute("aria-busy", on);
  clearTimeout(timers.solving);
  if (on) timers.solving = setTimeout(() => {
    at("results").classList.add("stale");
    at("verdict").classList.add("solving");
    at("verdict").textContent = "Solving…";
  }, SOLVING_MS);
};

const checks = new Newest("check", {
  started: () => busy(true),
  answered: (data, question) => {
    busy(false);
    if (last && last.page.base !== data.page.base) toast("The bar file, or the steel that it names, was read again: these are its numbers as it is on disk now.");
    last = data;
    last.changes = question.changes;
    fresh(true);
    show();
    if (!checks.waiting) later();
  },
  failed: (error, question) => {
    busy(false);
    fresh(false);
    results.stopLooking();
    trouble(error, question);
  },
});

const scenes = new Newest("scene", {
  answered: (data, question) => {
    if (!same(question)) return;
    scene = data;
    showScene();
  },
  failed: () => {},
});

const helps = new Newest("advice", {
  answered: (found, question) => {
    if (!same(question)) return;
    results.advice(found, (changes) => {
      state.change(changes);
      at("answer").focus({ preventScroll: true }); // the button goes: the keyboard goes on at the answer, not at the top
    });
    at("helps").classList.remove("stale");
  },
  failed: () => { at("helps").hidden = true; },
});

/** Advice belongs to the bar that it was found for: it is not to be tried on another. */
function outdated() {
  at("helps").classList.add("stale");
  for (const button of at("advice").querySelectorAll("button")) button.disabled = true;
}

const state = new State(() => {
  buttons();
  controls.follow(state.changes);
  clearTimeout(timers.view);
  clearTimeout(timers.helps);
  checks.ask({ ...body(), page: true });
  scenes.stop();
  helps.stop();
  outdated();
  at("bands").replaceChildren();
});

const controls = new Controls(at("controls"), {
  changed: (values, mark) => state.change(cleaned(values), mark),
  rested: () => state.rest(),
  forget: (mark) => state.forget(mark),
  section: other,
});

const sketch = new Sketch({
  moved: (values, mark) => state.change(cleaned(values), mark),
  rested: () => state.rest(),
  asked: (key) => {
    const value = within(key) ? null : state.changes[key] ?? controls.was(key);
    return typeof value === "number" ? value : null;
  },
});

/** Whether a table is given whole that holds the key: what the file says of it is not what it is asked to be. */
const within = (key) => Object.keys(state.changes).some((other) => key.startsWith(`${other}.`));

/** What stands in the file is no change; within a table that was given whole it is. */
function cleaned(values) {
  const out = {};
  for (const [key, value] of Object.entries(values)) {
    out[key] = !within(key) && shown(value) === shown(controls.was(key) ?? "\0") ? undefined : value;
  }
  return out;
}

function fresh(good) {
  at("results").classList.toggle("stale", !good);
  at("verdict").classList.remove("solving");
  if (good) {
    at("trouble").hidden = true;
    controls.clear();
  } else if (last) {
    results.verdict(last);
    at("verdict").textContent = last.page.verdict.replace(/^VERDICT/, "BEFORE THAT"); // where the reason is out of sight
  }
}

function trouble(error) {
  controls.clear();
  if (!last && error.controls) { // of the file, each as it is asked to be: what is wrong can be mended there
    controls.show(error.controls);
    controls.follow(state.changes);
  }
  const there = error.key && controls.wrong(error.key, error.words);
  const box = at("trouble");
  box.hidden = false;
  box.textContent = `${error.where && !there ? `${error.where}: ` : ""}${error.words}${last ? " The last good result stays below." : ""}`;
  buttons(); // without an answer too, the way back to the file is open
  if (!last) at("verdict").textContent = at("reset").disabled ? "No answer yet: the bar file cannot be judged as it stands." : "No answer yet: change what is wrong, or “As in the file” goes back to the bar that was opened.";
  else at("verdict").classList.add("solving");
}

function show() {
  const { page } = last;
  document.title = `${page.name} · barfem`;
  at("name").textContent = page.name;
  at("results").hidden = false;
  file();
  const keys = Object.keys({ ...state.changes, ...last.changes });
  const newer = keys.filter((key) => JSON.stringify(state.changes[key]) !== JSON.stringify(last.changes[key]));
  controls.show(page.controls, newer);
  const rows = page.tables.flatMap((table) => table.rows.map((row) => `${table.case} ${row.hole}`));
  if (!rows.includes(chosen)) chosen = "";
  results.verdict(last);
  results.tables(last, state.pinned, why, chosen || governing(), choose);
  results.pinnedLine(state.pinned, last, { go: () => state.set(state.pinned.changes), swap, unpin: () => { state.pin(null); show(); } });
  results.words(last);
  sketch.show(page.sketch);
  buttons();
  at("answer").dataset.changes = JSON.stringify(last.changes);
}

/** Which file this is, what has become of it, and which was written from it as it stands. */
function file() {
  const { page } = last, { written } = page;
  const said = page.on_disk ? ` (${page.on_disk})` : "";
  const since = !written ? "" : written.same ? `; as written: ${written.name}` : `; changed since ${written.name} was written`;
  at("file").replaceChildren(page.file ? `${page.file}${said}${since}` : since ? `a new bar${since}` : "a new bar, not written yet: every number is a default until you put in your own");
  const lines = page.commands.join("\n"); // on paper nothing else says what is changed
  at("printed").textContent = `The same result on the command line: ${lines}`;
  // Loading the page again reads the file as it is, and keeps what is changed here: the address holds it.
  if (page.on_disk.startsWith("changed")) at("file").append(" ", make("button", { type: "button", id: "reread", text: "Read it again", onclick: () => location.reload() }));
}

/** Ask what has become of the bar file: another program may have written it since the last answer. */
async function look() {
  if (!last) return;
  try {
    const asked = last, found = await ask("file", { changes: asked.changes });
    if (found.base !== asked.page.base) { // it, or its steel, was read again, as by another tab: these are no longer its numbers
      checks.ask({ ...body(), page: true });
      return;
    }
    Object.assign(asked.page, found);
    if (asked === last) file();
  } catch { /* the next answer says what is wrong */ }
}

/** What a dialog that goes by the bar file says where that is no longer what this page read: `changed`, or `gone`. */
function beware(changed, gone) {
  const said = last?.page.on_disk || "", words = said.startsWith("changed") ? changed : gone;
  return said && words ? make("p", { class: "error", text: `${last.page.file}: ${said}. ${words}` }) : null;
}

/** After an answer: the view, and when the hand rests what would help. */
function later() {
  const number = index();
  clearTimeout(timers.view);
  timers.view = setTimeout(() => scenes.ask({ ...body(), setting: number }), scene ? VIEW_MS : 0);
  clearTimeout(timers.helps);
  timers.helps = setTimeout(() => {
    results.looking(last.passes);
    helps.ask(body());
  }, IDLE_MS);
}

const name = (setting) => `${setting.case} ${setting.left}/${setting.right}`;
const governing = () => name(last.governing.life);

function index() {
  const wanted = chosen || governing();
  return Math.max(0, last.settings.findIndex((setting) => name(setting) === wanted));
}

function choose(loadCase, hole) {
  chosen = `${loadCase} ${hole}`;
  show();
  scenes.ask({ ...body(), setting: index() });
}

function showScene() {
  const names = last.settings.map((setting) => `${setting.left === setting.right ? `hole ${setting.left}` : `holes ${setting.left}/${setting.right}`}${last.page.tables.length > 1 ? `, ${setting.case}` : ""}`);
  if (view) view.update(scene.scene);
  else view = globalThis.barView(scene.scene);
  const select = at("setting");
  select.replaceChildren(...names.map((text, i) => make("option", { value: i, text })));
  select.value = scene.setting;
  along(scene.along, Math.min(scene.setting, scene.along.stress.length - 1));
}

at("setting").addEventListener("change", (event) => {
  event.stopImmediatePropagation(); // the view holds one hole setting: another one is fetched
  const setting = last.settings[Number(event.target.value)];
  choose(setting.case, `${setting.left}/${setting.right}`);
}, true);

function buttons() {
  at("undo").disabled = !state.past.length;
  at("redo").disabled = !state.future.length;
  at("reset").disabled = !Object.keys(state.changes).length;
  at("pin").setAttribute("aria-pressed", Boolean(state.pinned));
  at("pin").textContent = state.pinned ? "Pin this as A" : "Pin as A";
}

/** What is on the page once the newest change is answered: what a hand that is fast means, too. */
async function pin() {
  await checks.rests();
  if (!last) return;
  state.pin(results.kept(last, last.changes));
  show();
}

async function swap() {
  await checks.rests();
  const then = state.pinned;
  if (!then) return;
  state.pin(results.kept(last, last.changes));
  state.set(then.changes);
}

async function other(shape, equal) {
  const before = state.changes, { classList } = at("results"), stale = classList.contains("stale");
  classList.add("stale");
  try {
    const found = await ask("section", { ...body(), shape, equal_rate: equal });
    if (before !== state.changes) return;
    state.set(found.changes);
    toast(found.notes.join(" "));
  } catch (error) {
    if (error.status !== 422 || !controls.wrong("section.diameter", error.words)) toast(error.words);
  }
  if (before === state.changes) classList.toggle("stale", stale); // the bar is what it was, and so is what is said of it
}

async function why(key, title, here = "") {
  let lines;
  try {
    const found = await ask(`explain?key=${encodeURIComponent(key)}`);
    title = `${title}: ${found.title.toLowerCase() === title.toLowerCase() ? "what it is" : found.title}`;
    const mine = here ? [["here", here]] : [];
    lines = [...mine, ...found.lines].filter(([what]) => !["column", "see also"].includes(what))
      .flatMap(([what, words]) => [make("dt", { text: what }), make("dd", { text: words })]);
  } catch (error) { lines = [make("dd", { text: error.words })]; }
  await dialog(title, [make("dl", {}, ...lines)], [["", "Close", true]]);
}

async function write() {
  await look();
  await checks.rests();
  if (at("dialog").open) return; // pressed twice
  const suggested = last?.page.file ? last.page.file.replace(/.*[\\/]/, "").replace(/\.toml$/i, "-changed.toml") : "my-bar.toml";
  const input = make("input", { type: "text", id: "new-name", value: suggested, spellcheck: "false", required: true });
  const label = make("label", { for: "new-name", text: "Name of the new bar file" });
  const title = make("input", { type: "text", id: "bar-name", value: last?.page.name || "", spellcheck: "false" });
  const titled = make("label", { for: "bar-name", text: "Name of the bar, as reports have it" });
  const note = make("p", { class: "hint", text: `In ${last?.page.folder || "the folder"}. ${last?.page.file ? "Comments are kept; the file that was opened stays as it is." : ""}` });
  const old = beware("What is written here has none of that: “Read it again” first, if it should.");
  const said = make("p", { class: "error", hidden: true, role: "alert" });
  let replace = false;
  for (;;) {
    const answer = await dialog("Write this bar", [label, input, titled, title, note, old, said].filter(Boolean), [["no", "Cancel"], ["yes", replace ? "Replace it" : "Write", true]]);
    if (answer !== "yes") return;
    if (input.value.trim() && !input.value.includes(".")) input.value = `${input.value.trim()}.toml`;
    const named = title.value.trim();
    const changes = named && named !== last?.page.name ? merged(state.changes, { name: named }) : state.changes;
    try {
      const found = await ask("write", { changes, name: input.value, replace: replace === input.value });
      state.set(changes); // a name that was refused, or thought better of, is no change
      look();
      toast(`${found.path} is written. Next: ${found.next}`);
      return;
    } catch (error) {
      said.hidden = false;
      said.textContent = error.exists ? `${input.value} is there already. Replace it?` : error.words;
      replace = error.exists ? input.value : false;
    }
  }
}

async function copy() {
  if (!last) return;
  await look();
  await checks.rests();
  if (at("dialog").open) return;
  const typed = same(last) ? null : make("p", { class: "error", text: "What is typed now has no answer: these lines lead to the last good result." });
  const text = last.page.commands.join("\n");
  let copied = true;
  try { await navigator.clipboard.writeText(text); } catch { copied = false; }
  await dialog(copied ? "Copied: the same result on the command line" : "The same result on the command line", [typed, beware("These lines judge it as it is now: other numbers than this page's.", "These lines need it: “Write this bar” first."), make("pre", { text, tabindex: "0" })].filter(Boolean), [["", "Close", true]]);
}

at("undo").addEventListener("click", () => state.undo());
at("redo").addEventListener("click", () => state.redo());
at("reset").addEventListener("click", () => state.set({}));
at("pin").addEventListener("click", pin);
at("write").addEventListener("click", write);
at("commands").addEventListener("click", copy);
at("band").addEventListener("click", async () => {
  const asked = JSON.stringify(state.changes);
  at("band").disabled = true;
  const hint = make("p", { class: "hint", text: "Making and judging 128 bars of this drawing…", role: "status" });
  at("bands").replaceChildren(hint);
  const counting = setInterval(async () => {
    const { done, of } = await ask("progress", {}).catch(() => ({ done: 0 }));
    if (done) hint.textContent = `${done} of ${of} bars of this drawing judged…`;
  }, COUNT_MS);
  try {
    const found = await ask("band", body());
    if (asked === JSON.stringify(state.changes)) results.bands(found);
  } catch (error) {
    at("bands").replaceChildren(...(error.superseded ? [] : [make("p", { class: "error", text: error.words })]));
  }
  clearInterval(counting);
  at("band").disabled = false;
});
document.addEventListener("keydown", (event) => {
  if (!(event.ctrlKey || event.metaKey) || at("dialog").open) return;
  const key = event.key.toLowerCase();
  const does = key === "z" && !event.shiftKey ? () => state.undo() : key === "y" || (key === "z" && event.shiftKey) ? () => state.redo() : null;
  if (!does || halfTyped(event.target)) return; // what is being typed is the field's own to undo
  event.preventDefault();
  does();
});
window.addEventListener("hashchange", () => state.readAgain());
window.addEventListener("focus", look); // back from the editor
// The view is a picture by then: on paper it keeps the ground that its letters were chosen for.
window.addEventListener("beforeprint", () => { at("bar3d").style.background = getComputedStyle(at("bar3d")).backgroundColor; });
window.addEventListener("afterprint", () => { at("bar3d").style.background = ""; });
let width = window.innerWidth;
window.addEventListener("resize", () => {
  if (!last || width === window.innerWidth) return;
  width = window.innerWidth;
  sketch.show(last.page.sketch);
  if (scene) along(scene.along, Math.min(scene.setting, scene.along.stress.length - 1));
});

checks.ask({ ...body(), page: true });

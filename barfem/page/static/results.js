// The answer: hole settings with the pinned bar beside, verdict and reasons, advice, and what stands behind the numbers.

import { at, make } from "./dom.js";

const percent = (now, then) => {
  if (typeof now !== "number" || typeof then !== "number" || then === 0) return "";
  const change = 100 * (now / then - 1);
  return Math.abs(change) < 0.05 ? "same" : `${change > 0 ? "+" : "−"}${Math.abs(change).toFixed(Math.abs(change) < 10 ? 1 : 0)} %`;
};

const difference = (part, then) => {
  if (/life/.test(part.key)) return ""; // bands: designs are compared by safety factor
  if (typeof part.value !== "number" || typeof then !== "number") return "";
  if (/margin|percent/.test(part.key)) {
    const change = part.value - then;
    return Math.abs(change) < 0.005 ? "same" : `${change > 0 ? "+" : "−"}${Math.abs(change).toFixed(2)}`;
  }
  return percent(Math.abs(part.value), Math.abs(then));
};

/** What pinning keeps: each number by its place, and how it was printed. */
export function kept(data, changes) {
  const cells = {};
  for (const table of data.page.tables) for (const row of table.rows) for (const [id, cell] of Object.entries(row.cells)) {
    cells[`${table.case} ${row.hole} ${id}`] = [cell.parts.map((part) => part.text ?? part).join(""), cell.parts.find((part) => part.key)?.value];
  }
  const head = data.page.head.find((line) => /diameter/.test(line)) || data.page.name;
  return { changes, base: data.page.base, cells, head, mass: data.mass_kg, passes: data.passes };
}

/** The number that is asked about, and the place that decides it, in the check's words. */
function here(data, table, row, column, cell) {
  const unit = /^\d/.test(column.unit) ? `(${column.unit})` : column.unit; // the share of a life's band
  const number = `${cell.parts.map((part) => part.text ?? part).join("")} ${unit || ""}`.trim();
  const setting = data.settings.find((each) => each.case === table.case && `${each.left}/${each.right}` === row.hole);
  const place = { stress: setting?.peak, margin: setting?.peak, safety: setting?.fatigue, life: setting?.fatigue }[column.id]?.where;
  return place ? `${number}: ${place}` : number;
}

function cell(data, table, row, column, pinned, why) {
  const found = row.cells[column.id];
  const box = make("td", { class: found?.mood || "" });
  if (!found) { box.textContent = "-"; return box; }
  const parts = found.parts.map((part) => part.key
    ? make("span", { text: part.text, data: { result: part.key, hole: row.hole, case: table.case, value: JSON.stringify(part.value) } })
    : part.text);
  const first = found.parts.find((part) => part.key);
  if (first && column.why) {
    box.append(make("button", {
      type: "button", class: "figure", title: "Why?", onclick: () => why(column.why, `${column.heading}, hole ${row.name}`, here(data, table, row, column, found)),
    }, ...parts));
  } else box.append(...parts);
  if (pinned && first) {
    const then = pinned.cells[`${table.case} ${row.hole} ${column.id}`];
    const change = then ? difference(first, then[1]) : "";
    if (then) box.append(make("span", { class: "beside" }, make("span", { text: `A ${then[0]}` }), change ? make("b", { text: change }) : null));
  }
  return box;
}

export function tables(data, pinned, why, chosen, choose) {
  const scroll = at("tables").querySelectorAll(".scroll");
  const lefts = [...scroll].map((each) => each.scrollLeft);
  const held = [...at("tables").querySelectorAll("button")].indexOf(document.activeElement); // the keyboard stays there
  const made = data.page.tables.map((table) => make("section", { class: "card settings", "aria-label": `Hole settings, ${table.case}` },
    make("h2", {}, table.title, table.about ? make("small", { text: table.about }) : null),
    make("p", { class: "hint swipe", text: "More columns: swipe the table sideways →" }),
    make("div", { class: "scroll", tabindex: "0", role: "region", "aria-label": `Hole settings, ${table.case}, table` },
      make("table", {},
        make("thead", {}, make("tr", {}, make("th", { scope: "col", text: "Hole" }),
          ...table.columns.map((column) => make("th", { scope: "col" },
            make("button", { type: "button", class: "head", title: "What is this?", onclick: () => why(column.why, column.heading) },
              column.heading, column.unit ? make("small", { text: column.unit }) : null))))),
        make("tbody", {}, ...table.rows.map((row) => make("tr", { class: `${table.case} ${row.hole}` === chosen ? "chosen" : "" },
          make("th", { scope: "row" }, make("button", {
            type: "button", class: "hole", text: row.name, title: "Show this hole in the view", "aria-pressed": `${table.case} ${row.hole}` === chosen,
            onclick: () => choose(table.case, row.hole),
          })),
          ...table.columns.map((column) => cell(data, table, row, column, pinned, why)))))),
    ), ...table.remarks.map((text) => make("p", { class: "hint", text }))));
  at("tables").replaceChildren(...made);
  at("tables").querySelectorAll(".scroll").forEach((each, i) => { each.scrollLeft = lefts[i] || 0; });
  if (held >= 0) at("tables").querySelectorAll("button")[held]?.focus({ preventScroll: true });
}

export function verdict(data) {
  const box = at("verdict");
  box.textContent = data.page.verdict;
  box.className = `verdict ${data.passes ? "passes" : "fails"}`;
  at("twice").hidden = !data.page.twice.length;
  at("twice").textContent = data.page.twice.join(" ");
  at("why").replaceChildren(...data.page.why.map((line) => make("li", { text: line })));
}

export function pinnedLine(pinned, data, actions) {
  const box = at("pinned");
  box.hidden = !pinned;
  if (!pinned) return;
  const mass = percent(data.mass_kg, pinned.mass);
  const there = pinned.base === data.page.base; // else its changes make another bar of the file by now
  box.replaceChildren(
    make("p", {}, make("strong", { text: "A: " }), pinned.head, pinned.passes ? ": passes." : ": fails.", there ? "" : " Of the file as it was before it was read again."),
    make("p", {}, "Mass ", make("span", { text: `${data.mass_kg.toFixed(2)} kg`, data: { result: "mass_kg", value: data.mass_kg } }),
      ` (A ${pinned.mass.toFixed(2)} kg, ${mass}).`),
    make("div", { class: "row" },
      there ? make("button", { type: "button", text: "Go to A", onclick: actions.go }) : null,
      there ? make("button", { type: "button", text: "Swap A and this", onclick: actions.swap }) : null,
      make("button", { type: "button", text: "Unpin", onclick: actions.unpin })));
}

/** Until advice is there. */
export function looking(passes) {
  if (at("advice").childElementCount && !at("helps").classList.contains("stale")) return;
  if (passes) { at("helps").hidden = true; return; }
  at("helps").hidden = false;
  at("helps").classList.remove("stale");
  at("helps-title").textContent = "What would make it pass";
  at("advice").replaceChildren(make("p", { class: "hint", role: "status", text: "Looking: bars are solved, it takes some seconds…" }));
}

/** Nothing is looked for where a value stands that makes no bar. */
export function stopLooking() {
  if (at("advice").querySelector("[role=status]")) at("helps").hidden = true;
}

export function advice(found, apply) {
  const card = at("helps");
  at("helps-title").textContent = found.passes ? "To spare" : "What would make it pass";
  card.hidden = !found.advice.length;
  const ways = new Map();
  for (const each of found.advice) {
    if (!ways.has(each.heading)) ways.set(each.heading, []);
    ways.get(each.heading).push(each);
  }
  at("advice").replaceChildren(...[...ways].map(([heading, some]) => make("div", { class: "ways" },
    heading ? make("h3", { text: heading }) : null,
    make("ul", {}, ...some.map((each) => make("li", {}, make("span", { text: each.words }),
      Object.keys(each.changes).length
        ? make("button", { type: "button", text: "Try it", "aria-label": `Try it: ${each.words}`, onclick: () => apply(each.changes) })
        : null))))));
}

export function words(data) {
  const { page } = data;
  const part = (title, lines, open = false) => lines.length
    ? make("details", { open }, make("summary", { text: `${title}${lines.length > 1 ? ` (${lines.length})` : ""}` }), make("ul", {}, ...lines.map((line) => make("li", { text: line }))))
    : null;
  const before = [...at("words").querySelectorAll("details")].map((each) => each.open);
  const made = [
    make("div", {}, ...page.head.map((line) => make("p", { text: line }))),
    part("What governs", page.governing, true), part("Where experience misleads", page.lessons), part("Warnings", page.warnings),
    part("Assumptions", page.assumptions), part("Cautions", page.cautions, true),
  ].filter(Boolean);
  at("words").replaceChildren(...made);
  if (before.length) at("words").querySelectorAll("details").forEach((each, i) => { if (i < before.length) each.open = before[i]; });
}

export function bands(found) {
  const heads = [["fatigue.safety_factor_at_target", "Safety factor"], ["fatigue.life_at_survival_cycles", "Life at survival, cycles"],
    ["yield_margin", "Yield margin"], ["peak.von_mises_MPa", "Peak stress, MPa"], ["rate_N_per_mm", "Rate, N/mm"]];
  at("bands").replaceChildren(
    make("div", { class: "scroll", tabindex: "0", role: "region", "aria-label": "Tolerance band, table" }, make("table", {},
      make("thead", {}, make("tr", {}, make("th", { scope: "col", text: "Hole" }), ...heads.map(([, text]) => make("th", { scope: "col", text })))),
      make("tbody", {}, ...found.rows.map((row) => make("tr", {}, make("th", { scope: "row", text: `${row.hole.split("/")[0] === row.hole.split("/")[1] ? row.hole.split("/")[0] : row.hole}${found.rows.some((r) => r.case !== row.case) ? `, ${row.case}` : ""}` }),
        ...heads.map(([key]) => make("td", { text: row.spreads[key]?.text || "-" }))))))),
    make("p", { class: "hint", text: `${found.samples} bars: enough for a range, not for the chance of a miss (barfem tolerance).` }),
    ...found.notes.map((text) => make("p", { class: "hint", text })));
}

// Two drawings: stress along the bar, and the sketch in plan and front view whose points can be dragged.

import { at, draw, make } from "./dom.js";

const nice = (top) => {
  const rough = top / 4, unit = 10 ** Math.floor(Math.log10(rough));
  return [1, 2, 2.5, 5, 10].map((n) => n * unit).find((n) => n >= rough);
};

const WORD_PX = 44; // what "bends" and "mount" take, with air

/** Places so near each other that one word stands for them: on a phone there is no room for each. */
function neighbours(places) {
  const groups = [];
  for (const place of places.sort((a, b) => a - b)) {
    const last = groups.at(-1);
    if (last && place - 0.5 * (last[0] + last.at(-1)) < WORD_PX) last.push(place);
    else groups.push([place]);
  }
  return groups;
}

export function along(data, chosen) {
  const place = at("along");
  const W = Math.max(300, Math.round(place.clientWidth)), H = 230, L = 46, R = 10, T = 14, B = 52;
  const peak = Math.max(...data.stress.flat());
  const top = 1.12 * peak, step = nice(top);
  const x = (s) => L + ((W - L - R) * s) / data.length, y = (v) => H - B - ((H - T - B) * v) / top;
  const line = (values) => values.map((v, i) => `${i ? "L" : "M"}${x(data.stations[i]).toFixed(1)} ${y(v).toFixed(1)}`).join("");
  const marks = data.marks.filter((mark) => mark.kind === "bend" || mark.kind === "mount");
  const svg = draw("svg", { viewBox: `0 0 ${W} ${H}`, role: "img", class: "chart",
    "aria-label": `Von Mises stress along the bar. The greatest is ${peak.toFixed(0)} MPa, ${data.names[chosen]} is drawn strong.` });
  for (const mark of marks) svg.append(draw("rect", { class: mark.kind, x: x(mark.from), y: T, width: Math.max(1, x(mark.to) - x(mark.from)), height: H - T - B }));
  for (const kind of ["bend", "mount"]) {
    for (const near of neighbours(marks.filter((mark) => mark.kind === kind).map((mark) => 0.5 * (x(mark.from) + x(mark.to))))) {
      svg.append(draw("text", { class: "small", x: 0.5 * (near[0] + near.at(-1)), y: H - B + (kind === "bend" ? 29 : 14), "text-anchor": "middle", text: near.length > 1 ? `${kind}s` : kind }));
    }
  }
  for (let v = 0; v <= top; v += step) {
    svg.append(draw("line", { class: "grid", x1: L, x2: W - R, y1: y(v), y2: y(v) }));
    svg.append(draw("text", { class: "small", x: L - 6, y: y(v) + 4, "text-anchor": "end", text: String(Math.round(v)) }));
  }
  if (data.limit < top) {
    svg.append(draw("line", { class: "limit", x1: L, x2: W - R, y1: y(data.limit), y2: y(data.limit) }));
    svg.append(draw("text", { class: "small bad", x: 0.5 * (L + W), y: y(data.limit) - 4, "text-anchor": "middle", text: `yield margin ${data.margin}` }));
  }
  data.stress.forEach((values, i) => { if (i !== chosen) svg.append(draw("path", { class: "other", d: line(values) })); });
  svg.append(draw("path", { class: "lead", d: line(data.stress[chosen]) }));
  svg.append(draw("text", { class: "small", x: L, y: H - 6, text: "right tip" }), draw("text", { class: "small", x: W - R, y: H - 6, "text-anchor": "end", text: "left tip" }));
  const under = data.limit < top ? "" : ` The yield margin of ${data.margin} would be reached at ${data.limit.toFixed(0)}\u00a0MPa.`;
  place.replaceChildren(svg, make("p", { class: "hint", text: `Von Mises, MPa, greatest round the section and of all states, over the developed length. Strong: ${data.names[chosen]}.${under}` }));
}

const VIEWS = [["Plan", "y", "x", 1, 0], ["Front view", "y", "z", 1, 2]];
const INDEX = { x: 0, y: 1, z: 2 };
const LETTER_PX = 6.6;

export class Sketch {
  /** `moved(values, mark)` is called with the keys that a dragged point changes; `rested()` when it is let go; `asked(key)`
      is what a key is asked to be by now, where that is a number: keys are pressed faster than bars are answered. */
  constructor({ moved, rested, asked }) {
    Object.assign(this, { moved, rested, asked, data: null, held: null });
  }

  show(data) {
    this.data = data;
    const active = document.activeElement?.dataset?.handle;
    const rows = data.handles.some((handle) => handle.moves.some((move) => move.along));
    at("sketch-hint").textContent = rows
      ? "Drag the end of a straight along it, or move it with the arrow keys (Shift: 10 mm): its row's length changes, and what is bent after it goes along. Angles and rotations are at Shape. mm."
      : data.handles.length
        ? "Drag a point, or move it with the arrow keys (Shift: 10 mm). Both sides of a symmetrical bar move together. mm."
        : "These points can't be dragged: change them at Shape.";
    if (this.held) this.refresh();
    else at("sketch").replaceChildren(...VIEWS.map((view, i) => this.view(view, i)));
    if (active) document.querySelector(`[data-handle="${active}"]`)?.focus();
  }

  scale([, across, up]) {
    const place = at("sketch"), W = Math.max(280, Math.round(place.clientWidth)), H = up === "x" ? 220 : 120, pad = W > 700 ? 110 : 30;
    const values = (axis) => [...this.data.line, ...this.data.handles.map((h) => h.at)].map((p) => p[INDEX[axis]]);
    const [u0, u1, v0, v1] = [Math.min(...values(across)), Math.max(...values(across)), Math.min(...values(up)), Math.max(...values(up))];
    const per = Math.min((W - 2 * pad) / (u1 - u0 || 1), (H - 2 * 30) / Math.max(v1 - v0, 1));
    return { W, H, per, u: 0.5 * (u0 + u1), v: 0.5 * (v0 + v1) };
  }

  view(view, number) {
    const frame = this.scale(view), [name, across, up] = view;
    const svg = draw("svg", { viewBox: `0 0 ${frame.W} ${frame.H}`, class: "sketch", role: "group", "aria-label": `${name}: left of the car is left`, data: { view: number } });
    const group = draw("g", {});
    svg.append(group);
    Object.assign(svg, { frame });
    this.lines(svg, group, view);
    for (const handle of this.data.handles) {
      if (this.moves(handle, [across, up]).length) svg.append(this.handle(svg, handle, across, up, number));
    }
    return make("figure", {}, make("figcaption", { text: `${name}${up === "x" ? ", forward is up" : ""}` }), svg);
  }

  // The left of the car is on the left, as its driver sees it.
  place(frame, point, across, up) {
    return [0.5 * frame.W - frame.per * (point[INDEX[across]] - frame.u), 0.5 * frame.H - frame.per * (point[INDEX[up]] - frame.v)];
  }

  thick(frame) { return Math.max(3, frame.per * this.data.diameter); }

  /** Whether the bar, as thick as it is drawn, goes through a box of the drawing: left, right, top, bottom. */
  barIn(frame, box, across, up) {
    const half = 0.5 * this.thick(frame), [left, right, top, bottom] = [box[0] - half, box[1] + half, box[2] - half, box[3] + half];
    const points = this.data.line.map((p) => this.place(frame, p, across, up));
    return points.some(([x, y], i) => {
      const [u, v] = points[Math.max(0, i - 1)], steps = Math.ceil(Math.hypot(x - u, y - v) / 4) || 1;
      for (let k = 0; k <= steps; k += 1) {
        const px = u + ((x - u) * k) / steps, py = v + ((y - v) * k) / steps;
        if (px > left && px < right && py > top && py < bottom) return true;
      }
      return false;
    });
  }

  lines(svg, group, [, across, up]) {
    const to = (p) => this.place(svg.frame, p, across, up);
    const path = this.data.line.map((p, i) => `${i ? "L" : "M"}${to(p).map((n) => n.toFixed(1)).join(" ")}`).join("");
    const parts = [draw("path", { class: "bar", d: path, "stroke-width": this.thick(svg.frame) })];
    for (const mount of this.data.mounts) {
      const [x, y] = to(mount);
      parts.push(draw("rect", { class: "bush", x: x - 5, y: y - 9, width: 10, height: 18 }));
    }
    for (const hole of this.data.holes) {
      const [x, y] = to(hole.at);
      parts.push(draw("circle", { class: "bore", cx: x, cy: y, r: 2.5 }));
    }
    group.replaceChildren(...parts);
  }

  /** Those that a drag in this view can work: along an axis of it, or along a straight that is not seen end on. */
  moves(handle, axes) {
    return handle.moves.filter((move) => (move.along ? this.seen(move, axes) > 0.04 : axes.includes(move.axis)));
  }

  seen(move, axes) { return axes.reduce((sum, axis) => sum + move.along[INDEX[axis]] ** 2, 0); }

  text(handle, across, up) {
    return this.moves(handle, [across, up]).map((move) => (move.along
      ? `${move.label} ${Number(move.keys[0].value.toFixed(1))}`
      : `${move.axis} ${Number(handle.at[INDEX[move.axis]].toFixed(1))}`)).join(", ");
  }

  /** By how much a drag (mm along the view's axes) moves it. */
  delta(move, deltas, axes) {
    if (!move.along) return deltas[move.axis];
    return axes.reduce((sum, axis) => sum + (deltas[axis] || 0) * move.along[INDEX[axis]], 0) / this.seen(move, axes);
  }

  handle(svg, handle, across, up, number) {
    const id = `${number} ${handle.name}`;
    const words = () => `${handle.name}: ${this.text(this.current(handle), across, up)} mm`;
    const circle = draw("circle", { class: "dot", r: 7 }), reach = draw("circle", { class: "reach", r: 20 });
    const label = draw("text", { class: "small", "text-anchor": "middle" });
    const group = draw("g", { class: "handle", tabindex: "0", role: "button", data: { handle: id } }, reach, circle, label);
    group.put = () => {
      const now = this.current(handle), [x, y] = this.place(svg.frame, now.at, across, up);
      // Where two labels would meet, the inner one shows when its point is pointed at.
      const close = this.data.handles.some((other) => {
        const [u, v] = this.place(svg.frame, other.at, across, up);
        return other.name !== now.name && Math.abs(v - y) < 15 && Math.abs(u - x) < (handle.moves[0]?.along ? 135 : 100) && Math.abs(u - 0.5 * svg.frame.W) > Math.abs(x - 0.5 * svg.frame.W);
      });
      for (const each of [circle, reach]) { each.setAttribute("cx", x); each.setAttribute("cy", y); }
      // Beside the point, away from the bar, where there is room, or raised there; else under it or over it.
      const left = x < 0.5 * svg.frame.W, side = left ? -1 : 1;
      label.textContent = this.text(now, across, up);
      const half = 0.5 * LETTER_PX * label.textContent.length, wide = Math.max(handle.moves[0]?.along ? 130 : 84, 2 * half);
      const lies = handle.moves.some((move) => move.along && Math.abs(move.along[INDEX[across]]) > 0.7); // along the view
      const room = !lies && (left ? x > wide : svg.frame.W - x > wide);
      label.setAttribute("x", room ? x + 13 * side : Math.min(Math.max(x, 0.5 * wide), svg.frame.W - 0.5 * wide));
      label.setAttribute("text-anchor", room ? (left ? "end" : "start") : "middle");
      const under = Math.min(y + 22, svg.frame.H - 4), over = y - 12;
      const tried = room ? [y + 4, over] : !lies && y > 0.5 * svg.frame.H ? [under, over] : [over, under];
      const from = Number(label.getAttribute("x")) - (room ? (left ? 2 * half : 0) : half);
      const clear = tried.find((line) => !this.barIn(svg.frame, [from, from + 2 * half, line - 11, line + 3], across, up));
      label.setAttribute("y", clear ?? tried[0]);
      group.classList.toggle("shy", close || clear === undefined);
      group.setAttribute("aria-label", words());
    };
    group.put();
    const change = (from, deltas, mark) => {
      const values = {};
      for (const move of this.moves(from, [across, up])) {
        const delta = this.delta(move, deltas, [across, up]);
        if (!delta) continue;
        for (const key of move.keys) values[key.key] = Number((Math.round(2 * (key.value + key.factor * delta)) / 2).toFixed(1));
      }
      if (Object.keys(values).length) this.moved(values, mark);
    };
    group.addEventListener("pointerdown", (event) => {
      event.preventDefault();
      group.focus();
      group.setPointerCapture(event.pointerId);
      this.held = { id, from: structuredClone(this.current(handle)), x: event.clientX, y: event.clientY, per: svg.frame.per * (svg.getBoundingClientRect().width / svg.frame.W) };
    });
    group.addEventListener("pointermove", (event) => {
      if (this.held?.id !== id) return;
      const { from, x, y, per } = this.held;
      change(from, { [across]: -(event.clientX - x) / per, [up]: -(event.clientY - y) / per }, `drag ${id}`);
    });
    const drop = () => {
      if (this.held?.id !== id) return;
      this.held = null;
      this.rested();
      if (this.data) this.show(this.data);
    };
    for (const kind of ["pointerup", "pointercancel", "lostpointercapture"]) group.addEventListener(kind, drop);
    group.addEventListener("keydown", (event) => {
      const step = event.shiftKey ? 10 : 1;
      const delta = { ArrowLeft: [across, step], ArrowRight: [across, -step], ArrowUp: [up, step], ArrowDown: [up, -step] }[event.key];
      if (!delta) return;
      event.preventDefault();
      const now = this.current(handle);
      const moves = now.moves.map((move) => ({ ...move, keys: move.keys.map((key) => ({ ...key, value: this.asked(key.key) ?? key.value })) }));
      change({ ...now, moves }, { [delta[0]]: delta[1] }, `drag ${id}`);
    });
    group.addEventListener("keyup", () => this.rested());
    return group;
  }

  current(handle) { return this.data.handles.find((each) => each.name === handle.name) || handle; }

  /** While a point is held its drawing keeps its scale. */
  refresh() {
    at("sketch").querySelectorAll("svg").forEach((svg) => {
      this.lines(svg, svg.querySelector("g"), VIEWS[Number(svg.dataset.view)]);
      svg.querySelectorAll(".handle").forEach((group) => group.put());
    });
  }
}

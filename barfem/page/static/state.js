// What is changed, and how it became so: undo, redo, the pinned bar, and all of it in the page's address.

const MOST_STEPS = 300;
const ADDRESS_MS = 150; // browsers take 100 to 200 addresses in ten seconds: more are dropped, or are an error

/** The changes in order: a table that is given whole comes before its own keys, and takes away older ones. */
export function merged(changes, more) {
  const out = { ...changes };
  for (const [key, value] of Object.entries(more)) {
    for (const other of Object.keys(out)) if (other.startsWith(`${key}.`) || other === key) delete out[other];
    if (value !== undefined) out[key] = value;
  }
  return out;
}

const table = (value) => typeof value === "object" && value !== null && !Array.isArray(value);

export class State {
  constructor(changed) {
    this.changed = changed;
    this.changes = {};
    this.pinned = null;
    this.past = [];
    this.future = [];
    this.mark = null; // of the control that moves: one drag is one step
    this.dropped = []; // what could be redone before it moved
    this.unkept = false; // whether the address is behind
    this.timer = 0;
    this.read();
  }

  read() {
    this.changes = {};
    try {
      const found = JSON.parse(decodeURIComponent(location.hash.slice(1)) || "{}");
      if (table(found?.c)) this.changes = found.c;
      if (table(found?.a?.cells) && table(found.a.changes) && typeof found.a.mass === "number") this.pinned = found.a;
    } catch { /* an address that somebody edited: the file as it is */ }
  }

  /** Another address in the same tab, typed or gone back to: a step that can be undone. */
  readAgain() {
    const before = this.changes;
    this.unkept = false;
    this.read();
    if (JSON.stringify(before) !== JSON.stringify(this.changes)) {
      this.past.push(before);
      this.future = [];
      this.mark = null;
    }
    this.changed();
  }

  /** The address follows at once, and while the hand moves on at intervals; where it stops is not left out. */
  keep() {
    this.unkept = true;
    if (!this.timer) this.put();
  }

  put() {
    const held = {};
    if (Object.keys(this.changes).length) held.c = this.changes;
    if (this.pinned) held.a = this.pinned;
    const hash = Object.keys(held).length ? `#${encodeURIComponent(JSON.stringify(held))}` : "";
    history.replaceState(null, "", location.pathname + location.search + hash);
    this.unkept = false;
    this.timer = setTimeout(() => {
      this.timer = 0;
      if (this.unkept) this.put();
    }, ADDRESS_MS);
  }

  /** New changes; `mark` names a movement, whose steps are undone together. */
  set(changes, mark = null) {
    if (JSON.stringify(changes) === JSON.stringify(this.changes)) return;
    if (!mark || mark !== this.mark) {
      this.past.push(this.changes);
      this.dropped = this.future;
      if (this.past.length > MOST_STEPS) this.past.shift();
    }
    this.mark = mark;
    this.future = [];
    this.changes = changes;
    this.keep();
    this.changed();
  }

  change(more, mark = null) { this.set(merged(this.changes, more), mark); }

  /** The movement is over: the next one is a step of its own. */
  rest() { this.mark = null; }

  /** A movement that was none, as of a finger that scrolls the page: all is as it was before. */
  forget(mark) {
    if (!mark || mark !== this.mark) return;
    this.future = this.dropped;
    this.changes = this.past.pop();
    this.mark = null;
    this.keep();
    this.changed();
  }

  undo() { this.go(this.past, this.future); }

  redo() { this.go(this.future, this.past); }

  go(from, to) {
    if (!from.length) return;
    to.push(this.changes);
    this.changes = from.pop();
    this.mark = null;
    this.keep();
    this.changed();
  }

  pin(answer) {
    this.pinned = answer;
    this.keep();
  }
}

// Questions to the page's own server. One check runs at a time; while it does, the newest change waits and older ones
// are dropped, so that the table follows a slider as fast as bars are solved.

const token = new URLSearchParams(location.search).get("token") || "";
const page = Array.from(crypto.getRandomValues(new Uint8Array(8)), (n) => n.toString(16).padStart(2, "0")).join("");
const PATIENCE_MS = 1500; // a check that takes longer solves a field: it is given up where a newer change waits

export class Refusal extends Error {
  constructor(status, error) {
    super(error.message);
    this.status = status;
    Object.assign(this, { where: "", expected: "" }, error);
  }

  /** In the words of the command line. */
  get words() { return this.message + (this.expected ? ` Right would be: ${this.expected}` : ""); }
}

const kept = () => (location.hash ? " What is changed here is not lost: put the end of this page's address, from its # on, behind the new one." : "");

export async function ask(path, body, signal) {
  const options = { headers: { "X-Token": token, "X-Page": page }, signal, cache: "no-store" };
  if (body !== undefined) Object.assign(options, { method: "POST", body: JSON.stringify(body) });
  if (body !== undefined) options.headers["Content-Type"] = "application/json";
  let answer, found;
  try {
    answer = await fetch(path, options);
    if (path === "bar" && answer.ok) return await answer.text();
    found = await answer.json(); // an answer that breaks off, or is not barfem's, is none
  } catch (error) {
    if (error.name === "AbortError") throw error;
    throw new Refusal(0, { message: "barfem page does not answer: it has been stopped.", expected: `barfem page in a terminal, and its address.${kept()}` });
  }
  if (answer.status === 403) throw new Refusal(403, { message: "this page is of an earlier barfem page, which has been stopped.", expected: `the address that the new one printed.${kept()}` });
  if (!answer.ok) throw new Refusal(answer.status, found.error);
  return found;
}

/** The newest question alone: `answered(data, question)` or `failed(refusal, question)`. */
export class Newest {
  constructor(path, { answered, failed, started = () => {} }) {
    Object.assign(this, { path, answered, failed, started, running: null, waiting: null, resting: [] });
  }

  ask(question) {
    this.waiting = question;
    if (!this.running) this.next();
    else if (performance.now() - this.running.since > PATIENCE_MS) this.running.abort.abort();
    else if (!this.timer) {
      this.timer = setTimeout(() => {
        this.timer = 0;
        if (this.running && this.waiting) this.running.abort.abort();
      }, PATIENCE_MS);
    }
  }

  /** Drop what runs and what waits. */
  stop() {
    this.waiting = null;
    if (this.running) this.running.abort.abort();
  }

  get busy() { return Boolean(this.running || this.waiting); }

  /** When what was asked is answered, or refused. */
  rests() { return this.busy ? new Promise((resolve) => this.resting.push(resolve)) : Promise.resolve(); }

  async next() {
    const question = this.waiting;
    if (!question) return;
    this.waiting = null;
    const mine = { abort: new AbortController(), since: performance.now() };
    this.running = mine;
    this.started(question);
    let done = () => {};
    try {
      const data = await ask(this.path, question, mine.abort.signal);
      done = () => this.answered(data, question);
    } catch (error) {
      const dropped = error.name === "AbortError" || error.superseded;
      if (!dropped) done = () => this.failed(error, question);
    }
    this.running = null;
    done();
    if (this.waiting) this.next();
    else for (const resolve of this.resting.splice(0)) resolve();
  }
}

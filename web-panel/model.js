// What the panel knows: the show, the newest status and how old it is, the last events.

import { Link } from "./link.js";

/** From here on the picture is called old. The daemon sends a status twenty times a second. */
export const STALE_MS = 1000;
/** A GO wants a fresher picture than an onlooker does. */
const FRESH_MS = 500;
const LOG_LENGTH = 200;
const REFETCH_MS = 1000;
/** Each may do what those before it may. */
const ROLES = ["observer", "caller", "operator"];

export class Model {
  constructor() {
    this.show = null;
    /** Whether this panel is let in, `{ role, name, why }`; null until the daemon has said so. */
    this.access = null;
    /** What the status calls this panel; null until the daemon has said so. */
    this.client = null;
    this.status = null;
    this.statusAt = -Infinity;
    this.log = [];
    this.lastSeq = null;
    this.lastRefusedAt = -Infinity;
    this.hidden = false;
    this.traces = new Map();
    this.fetching = null;
    this.fetchedAt = -Infinity;
    this.onChange = () => {};
    this.link = new Link({
      status: (status) => this.takeStatus(status),
      event: (event) => this.takeEvent(event),
      opened: () => this.takeOpened(),
      closed: (why) => this.takeClosed(why),
      access: (access) => this.takeAccess(access),
      named: (name) => this.takeName(name),
    });
  }

  /** ms since the newest status arrived; infinite before the first. */
  age() {
    return performance.now() - this.statusAt;
  }

  /** False as soon as the picture is old: then only the stop acts. */
  live() {
    return this.status !== null && this.show !== null && this.link.state === "open" && this.age() < STALE_MS;
  }

  /** Whether this panel may ask for what needs this role, now. */
  may(role) {
    return this.live() && ROLES.indexOf(this.access?.role) >= ROLES.indexOf(role);
  }

  /** Whether the daemon has said that this panel is not let in. */
  shut() {
    return this.access !== null && this.access.role === null;
  }

  isMe(client) {
    return this.client !== null && client === this.client;
  }

  /** A client as it is called here. */
  whom(client) {
    return this.isMe(client) ? "this panel" : client;
  }

  /** What others call this panel. */
  ownName() {
    return this.client === null ? "this panel" : `${this.client}, which is this panel`;
  }

  /** The names of the other operators who are here, in the order in which they came. */
  others() {
    const operators = (this.status?.clients ?? []).filter((client) => client.role === "operator");
    return operators.map((client) => client.name).filter((name) => !this.isMe(name));
  }

  fresh() {
    return this.live() && this.age() < FRESH_MS;
  }

  cue(number) {
    return this.show?.cues.find((cue) => cue.number === number) ?? null;
  }

  /** Passes a request on. A refusal is also written to the log, unless the daemon's own event says it. */
  async ask(method, params) {
    const askedAt = performance.now();
    const answer = await this.link.call(method, params);
    if (!answer.accepted) {
      setTimeout(() => {
        if (this.lastRefusedAt < askedAt) this.note("refused", `${method}: ${answer.reasons.join(" ")}`);
      }, 700);
    }
    this.onChange();
    return answer;
  }

  tell(method, params) {
    this.link.tell(method, params);
  }

  takeStatus(status) {
    this.status = status;
    this.statusAt = performance.now();
    if (this.show === null || this.show.hash !== status.hash) this.fetchShow();
    this.onChange();
  }

  takeEvent(event) {
    const now = performance.now();
    if (this.lastSeq !== null && event.seq > this.lastSeq + 1) {
      this.note("panel", `${event.seq - this.lastSeq - 1} events were not seen here while the link was lost.`);
    }
    // A daemon that was started again counts from 1.
    this.lastSeq = event.seq;
    if (event.kind === "refused") this.lastRefusedAt = now;
    this.note(event.kind, event.text ?? event.kind);
  }

  takeAccess(access) {
    this.access = access;
    this.onChange();
  }

  takeName(name) {
    this.client = name;
    this.onChange();
  }

  takeOpened() {
    this.fetchedAt = -Infinity;
    this.fetchShow();
    this.onChange();
  }

  takeClosed(why) {
    if (this.statusAt > -Infinity) this.note("panel", `Panel: ${why}`);
    this.onChange();
  }

  note(kind, text) {
    this.log.unshift({ kind, text, at: new Date() });
    this.log.length = Math.min(this.log.length, LOG_LENGTH);
    this.onChange();
  }

  async fetchShow() {
    if (this.fetching || performance.now() - this.fetchedAt < REFETCH_MS) return;
    this.fetchedAt = performance.now();
    this.fetching = readJson("/show");
    const show = await this.fetching;
    this.fetching = null;
    if (show && show.hash !== this.show?.hash) {
      this.show = show;
      this.traces.clear();
    }
    this.onChange();
  }

  /** The motion of a cue as samples, or null until it has been read. */
  motion(number) {
    // A preset is planned when it is asked for: there is nothing to read.
    if (this.cue(number) === null) return null;
    if (!this.traces.has(number)) {
      this.traces.set(number, null);
      const hash = this.show?.hash;
      readJson(`/cue/${encodeURIComponent(number)}`).then((cue) => {
        if (this.show?.hash !== hash) return;
        if (cue) this.traces.set(number, cue);
        // A reading that failed is tried again, though not at every status.
        else setTimeout(() => this.traces.get(number) === null && this.traces.delete(number), REFETCH_MS);
        this.onChange();
      });
    }
    return this.traces.get(number);
  }
}

async function readJson(path) {
  try {
    const answer = await fetch(path, { cache: "no-store", signal: AbortSignal.timeout(3000) });
    return answer.ok ? await answer.json() : null;
  } catch {
    return null;
  }
}

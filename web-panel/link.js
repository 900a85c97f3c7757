// The link to the daemon: one WebSocket, requests and their answers, renewal of the lease, reconnection.
//
//   asleep ── wake ─→ connecting ── open ─→ open
//      ↑               │    ↑ back-off ←── lost ┘
//      │               └ not let in: asks again
//      └── sleep (from any)
//
// Nothing is ever kept for later: a request that cannot leave now is answered here and forgotten, so that
// reconnection can start nothing. Only the subscription is sent by itself.

/** Between two questions whether this panel is let in by now. */
const SHUT_MS = 2000;
const RENEW_MS = 300;
const CONNECT_MS = 2000;
const ANSWER_MS = 3000;
/** Without a status for so long a socket that claims to be open is given up. */
const DEAF_MS = 2500;
const STALLED_MS = 400;
const BACK_OFF_MS = [200, 400, 800, 1500, 2000];
const SUBSCRIPTION = { hz: 20, lease: 1.0, stage: true };
/** Requests that may move something carry the time they were sent; the daemon refuses the old ones. */
const DATED = new Set(["go", "play", "preset", "resume", "return", "standby"]);
/** What the daemon thinks about for a while before it answers. */
const SLOW_MS = new Map([["play", 30000]]);

export class Link {
  /**
   * `heard.status`, `heard.event`, `heard.opened`, `heard.closed`, `heard.access` and `heard.named`, with what the daemon
   * calls this panel, are called as things arrive.
   */
  constructor(heard) {
    this.heard = heard;
    this.state = "asleep";
    this.socket = null;
    /** The question under way whether this panel is let in. */
    this.question = null;
    this.pending = new Map();
    this.nextId = 1;
    this.attempt = 0;
    this.lastHeard = 0;
    /** When nothing was seen waiting in the socket for the last time. */
    this.clearAt = 0;
    this.timers = [];
    /** Whether the present socket was ever open. */
    this.up = false;
  }

  wake() {
    if (this.state !== "asleep") return;
    this.attempt = 0;
    this.connect();
  }

  /** Lets the lease go: the daemon then treats this panel as a link that was lost, as each cue says. */
  sleep() {
    this.state = "asleep";
    this.drop("The panel was hidden.");
  }

  /** Starts afresh after the page was frozen: whatever the old socket still holds is not to be believed. */
  restart() {
    this.sleep();
    this.wake();
  }

  /** A WebSocket that is not let in opens too, but for the stop alone; so the question comes first. */
  connect() {
    this.state = "connecting";
    const question = askAccess();
    this.question = question;
    this.after(CONNECT_MS, () => this.state === "connecting" && this.lose("No answer to the call."));
    question.then((access) => {
      if (question !== this.question) return;
      if (access === null) return this.lose("No answer to the call.");
      this.heard.access(access);
      if (access.role !== null) return this.dial();
      this.drop("This panel is not let in.");
      this.after(SHUT_MS, () => this.connect());
    });
  }

  dial() {
    const scheme = location.protocol === "https:" ? "wss" : "ws";
    const socket = new WebSocket(`${scheme}://${location.host}/rpc?name=${name()}`);
    this.socket = socket;
    socket.onopen = () => socket === this.socket && this.opened();
    socket.onmessage = (message) => socket === this.socket && this.read(message.data);
    socket.onclose = () => socket === this.socket && this.lose("The link was lost.");
  }

  opened() {
    this.clearTimers();
    this.state = "open";
    this.up = true;
    this.lastHeard = performance.now();
    this.clearAt = this.lastHeard;
    this.call("subscribe", SUBSCRIPTION).then(({ result }) => this.heard.named(result?.client ?? null));
    this.timers.push(setInterval(() => this.renew(), RENEW_MS));
    this.heard.opened();
  }

  renew() {
    if (performance.now() - this.lastHeard > DEAF_MS) {
      this.lose("The link fell silent.");
      return;
    }
    this.write("subscribe", SUBSCRIPTION, this.nextId++);
  }

  read(text) {
    let message;
    try {
      message = JSON.parse(text);
    } catch {
      return;
    }
    for (const part of Array.isArray(message) ? message : [message]) this.take(part);
  }

  take(message) {
    if (message.method === "status") {
      this.look();
      this.lastHeard = performance.now();
      this.attempt = 0;
      this.heard.status(message.params);
    } else if (message.method === "event") {
      this.heard.event(message.params);
    } else if (this.pending.has(message.id)) {
      this.settle(message.id, answerOf(message));
    }
  }

  /**
   * Asks the daemon; resolves to `{ accepted, result, reasons, reached }`, and never rejects.
   * `reached` is false if nothing left this panel, null if the link was lost before the answer came.
   */
  call(method, params = {}) {
    if (this.state !== "open") return Promise.resolve(notSent("The link is lost: nothing was sent."));
    if (method !== "stop" && this.stalled()) {
      return Promise.resolve(notSent("The link is stalled: nothing was sent."));
    }
    const id = this.nextId++;
    const body = DATED.has(method) && clocksAgree() ? { ...params, sent: new Date().toISOString() } : params;
    return new Promise((resolve) => {
      const patience = SLOW_MS.get(method) ?? ANSWER_MS;
      const timer = setTimeout(() => this.settle(id, unanswered(`No answer within ${patience / 1000} s.`)), patience);
      this.pending.set(id, { resolve, timer });
      this.write(method, body, id);
    });
  }

  /** Says what nobody answers and only the newest of which counts. Behind other bytes it would be old: then it is not said. */
  tell(method, params) {
    if (this.state !== "open" || this.stalled()) return;
    this.socket.send(JSON.stringify({ jsonrpc: "2.0", method, params }));
  }

  /** Bytes that wait here arrive late, and a late GO is worse than none. For a moment every write waits. */
  stalled() {
    this.look();
    return performance.now() - this.clearAt > STALLED_MS;
  }

  look() {
    if (this.socket.bufferedAmount === 0) this.clearAt = performance.now();
  }

  settle(id, answer) {
    const waiting = this.pending.get(id);
    this.pending.delete(id);
    clearTimeout(waiting.timer);
    waiting.resolve(answer);
  }

  write(method, params, id) {
    this.socket.send(JSON.stringify({ jsonrpc: "2.0", id, method, params }));
  }

  lose(why) {
    this.drop(why);
    if (this.state === "asleep") return;
    this.state = "connecting";
    const wait = BACK_OFF_MS[Math.min(this.attempt, BACK_OFF_MS.length - 1)];
    this.attempt += 1;
    // Several panels lose the same daemon at once; they need not all come back in the same instant.
    this.after(wait * (0.8 + 0.4 * Math.random()), () => this.connect());
  }

  drop(why) {
    this.clearTimers();
    this.question = null;
    const socket = this.socket;
    this.socket = null;
    for (const id of [...this.pending.keys()]) {
      this.settle(id, unanswered(`${why} It is not known whether the request was carried out.`));
    }
    socket?.close();
    if (this.up) {
      this.up = false;
      this.heard.closed(why);
    }
  }

  after(milliseconds, then) {
    this.timers.push(setTimeout(then, milliseconds));
  }

  clearTimers() {
    // Time-outs and intervals share one number space, so one call clears either.
    for (const timer of this.timers) clearTimeout(timer);
    this.timers = [];
  }
}

/**
 * Under the same name the daemon takes a reloaded or reconnected panel for the client it was, so that it may release
 * what it held. One name a device.
 */
function name() {
  try {
    const kept = localStorage.getItem("name") ?? `panel-${Math.floor(Math.random() * 36 ** 4).toString(36)}`;
    localStorage.setItem("name", kept);
    return kept;
  } catch {
    // Storage is forbidden in some private windows: then each connection is a client of its own.
    return `panel-${Math.floor(Math.random() * 36 ** 4).toString(36)}`;
  }
}

/** `{ role, name, why }`, or null if nobody answered. */
async function askAccess() {
  try {
    const answer = await fetch("/access", { cache: "no-store", signal: AbortSignal.timeout(CONNECT_MS) });
    return answer.ok ? await answer.json() : null;
  } catch {
    return null;
  }
}

/** Only on the daemon's own machine do both read the same clock; a tablet's may be off by seconds. */
function clocksAgree() {
  return ["127.0.0.1", "localhost", "[::1]"].includes(location.hostname);
}

function answerOf(message) {
  if (!message.error) return { accepted: true, result: message.result ?? {}, reasons: [], reached: true };
  const reasons = message.error.data?.reasons ?? [message.error.message ?? "Refused without a reason."];
  return { accepted: false, result: null, reasons, reached: true };
}

function notSent(reason) {
  return { accepted: false, result: null, reasons: [reason], reached: false };
}

function unanswered(reason) {
  return { accepted: false, result: null, reasons: [reason], reached: null };
}

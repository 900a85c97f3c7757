// What runs, what waits for its follow, and what the stop left half-way: time left, rate, hold and resume.

import { byId, el, enable, flag, keyed, lines, put, say, show } from "./dom.js";
import { setGlyph } from "./glyph.js";
import { HoldToRun } from "./hold_to_run.js";
import { wayTo } from "./readiness.js";
import { number, seconds } from "./words.js";

export class Running {
  constructor(model) {
    this.model = model;
    this.list = byId("running-list");
    this.none = byId("running-none");
    this.refused = byId("running-reasons");
    this.all = byId("hold");
    this.rows = new Map();
    this.resumes = false;
    this.acted = false;
    this.all.addEventListener("pointerdown", (event) => this.pressAll(event));
    this.all.addEventListener("click", (event) => this.clickAll(event));
  }

  /** Hold acts on the press, since it slows things; resume on the release, from which a finger can still slide off. */
  pressAll(event) {
    if (event.button !== 0 || this.all.disabled) return;
    this.acted = !this.resumes;
    if (this.acted) this.send("hold", {});
  }

  clickAll(event) {
    const byKeyboard = event.detail === 0;
    if (this.acted && !byKeyboard) return;
    this.send(this.resumes ? "resume" : "hold", {});
  }

  async send(method, params) {
    const answer = await this.model.ask(method, params);
    lines(this.refused, answer.accepted ? [] : answer.reasons.map((reason) => `${method}: ${reason}`));
    return answer.accepted;
  }

  render() {
    const { status } = this.model;
    if (!status) return;
    const entries = entriesOf(status);
    keyed(this.list, [...entries.keys()], this.rows, (cue) => this.row(cue));
    for (const [cue, entry] of entries) this.paint(this.rows.get(cue), cue, entry);
    show(this.none, entries.size === 0);
    this.paintAll(status);
  }

  paintAll(status) {
    const moving = status.running.some((entry) => entry.state === "running");
    const held = status.held || status.running.some((entry) => entry.state === "holding");
    this.resumes = held && !moving;
    say(this.all, this.resumes ? "Resume all" : "Hold all");
    flag(this.all, "held", held);
    enable(this.all, this.model.may("caller") && !status.stopped && (moving || held || status.waiting.length > 0));
  }

  row(cue) {
    const glyph = el("span", { class: "cue-glyph" });
    const state = el("span", { class: "cue-state" });
    const left = el("span", { class: "running-left" });
    const rate = el("span", { class: "running-rate" });
    const bar = el("span", { class: "bar-fill" });
    const hold = el("button", { type: "button" }, "Hold");
    const standby = el("button", { type: "button" }, "Standby from here");
    const back = el("button", { type: "button", class: "hold-to-run" }, "Return while held");
    const root = el(
      "li",
      { class: "running-cue", "data-cue": cue },
      el("span", { class: "cue-number" }, cue),
      el("span", { class: "running-name" }, this.nameOf(cue)),
      left,
      el("span", { class: "cue-mark" }, glyph, state, rate),
      el("span", { class: "bar", "aria-hidden": "true" }, bar),
      el("span", { class: "running-controls" }, hold, standby, back),
    );
    const row = { root, glyph, state, left, rate, bar, hold, standby, back, resumes: false };
    hold.addEventListener("click", () => this.send(row.resumes ? "resume" : "hold", cue === "preset" ? {} : { cue }));
    standby.addEventListener("click", () => this.send("standby", { cues: [cue] }));
    row.way = new HoldToRun(back, () => this.model.may("caller"), () => this.send("return", { cue, held: true }));
    return row;
  }

  nameOf(cue) {
    if (cue === "preset") return wayTo(this.model.status.preset?.cue);
    if (cue === "take") return `Take ${this.model.status.playback?.take ?? ""}`;
    return this.model.cue(cue)?.name ?? "";
  }

  paint(row, cue, entry) {
    const may = this.model.may("caller");
    put(row.root, "data-state", entry.state);
    setGlyph(row.glyph, entry.state);
    say(row.state, entry.state);
    say(row.left, leftOf(entry));
    say(row.rate, paceOf(entry));
    show(row.bar.parentNode, entry.duration > 0);
    row.bar.style.width = `${(100 * gone(entry)).toFixed(1)}%`;
    const running = entry.state === "running";
    const halfWay = ["holding", "returning", "stopped"].includes(entry.state);
    row.resumes = entry.state === "holding";
    say(row.hold, row.resumes ? `Resume ${cue}` : `Hold ${cue}`);
    // The first place is never empty, so that the way back does not slide from under the thumb that holds it.
    // A preset is in no list: after a stop it is asked for anew, and of real rigs it goes on by its own button alone.
    const listed = cue !== "preset";
    const byHand = !listed && this.model.status.preset?.by_hand === true;
    show(row.hold, running || (row.resumes && !byHand) || entry.state === "returning");
    show(row.standby, listed && entry.state === "stopped");
    show(row.back, listed && halfWay);
    for (const button of [row.hold, row.standby, row.back]) enable(button, may);
    row.way.check();
  }
}

/** Running cues first, then the waiting, then what was stopped on its way; by cue number. */
function entriesOf(status) {
  const entries = new Map();
  for (const entry of status.running) entries.set(entry.cue, entry);
  for (const entry of status.waiting) entries.set(entry.cue, { ...entry, state: "waiting" });
  for (const [cue, state] of Object.entries(status.cues)) {
    if (state === "stopped" && !entries.has(cue)) entries.set(cue, { cue, state });
  }
  return entries;
}

function leftOf(entry) {
  if (entry.state === "stopped") return "on its way";
  if (!Number.isFinite(entry.left)) return entry.state === "waiting" ? "waits" : "";
  return entry.state === "waiting" ? `in ${seconds(entry.left)}` : `${seconds(entry.left)} left`;
}

/** At rest has to be seen: only from there can a cue be taken back. */
function paceOf(entry) {
  if (entry.state === "waiting" || !Number.isFinite(entry.rate)) return "";
  const still = entry.rate === 0 && entry.state !== "running";
  return still ? "at rest" : `× ${number(entry.rate, 2)}`;
}

function gone(entry) {
  return entry.duration > 0 ? Math.min(1, Math.max(0, entry.time / entry.duration)) : 0;
}

// Takes: recorded, kept, looked at, trimmed and played back. What would become of one, the daemon works out; nothing is
// computed here.

import { byId, el, enable, keyed, lines, put, say, show } from "./dom.js";
import { TakeSight } from "./take_sight.js";
import { list, seconds } from "./words.js";

/** The list is read again after so long, while it is looked at: others record too. */
const READ_EVERY_MS = 5000;

export class Takes {
  constructor(model) {
    this.model = model;
    this.sheet = byId("takes");
    this.tab = byId("tab-takes");
    this.deck = new Deck(model, () => this.read());
    this.sight = new TakeSight(model, () => this.read());
    this.list = el("ul", { class: "takes" });
    this.none = el("p", { class: "quiet" }, "No take is kept yet.");
    this.trouble = el("ul", { class: "reasons", role: "status" });
    this.sheet.append(this.deck.root, el("h3", {}, "Kept"), this.none, this.list, this.trouble, this.sight.root);
    this.rows = new Map();
    this.takes = [];
    this.readAt = -Infinity;
    this.hash = null;
  }

  /** Reads the list of takes; a reading under way does. */
  async read() {
    this.readAt = performance.now();
    const { takes, reasons } = await readTakes();
    if (takes) this.takes = takes;
    lines(this.trouble, reasons);
    this.model.onChange();
  }

  render() {
    const { status } = this.model;
    if (!status?.take) return;
    const label = tabOf(status.take);
    say(this.tab, label);
    put(this.tab, "data-take", status.take.state);
    this.deck.render(status);
    if (this.sheet.hidden || !this.model.live()) return;
    const changed = this.hash !== status.hash;
    if (changed || performance.now() - this.readAt > READ_EVERY_MS) {
      this.hash = status.hash;
      this.read();
    }
    show(this.none, this.takes.length === 0);
    keyed(this.list, this.takes.map((take) => take.name), this.rows, (name) => this.row(name));
    for (const take of this.takes) this.paint(this.rows.get(take.name), take);
    this.sight.render();
  }

  row(name) {
    const look = el("button", { type: "button", "aria-expanded": "false" }, "Look");
    const facts = el("p", { class: "take-facts" });
    const survey = el("p", { class: "take-survey" });
    const differences = el("ul", { class: "reasons" });
    const root = el("li", { class: "take", "data-take-name": name }, el("div", { class: "take-head" }, el("h4", {}, name), look), facts, survey, differences);
    look.addEventListener("click", () => {
      this.sight.open(this.sight.name === name ? null : name);
      root.append(this.sight.root);
    });
    return { root, look, facts, survey, differences };
  }

  paint(row, take) {
    say(row.facts, factsOf(take));
    const readable = take.trouble.length === 0;
    const same = readable && take.differences.length === 0;
    say(row.survey, readable ? surveyOf(take, same) : "");
    put(row.survey, "data-same", String(same));
    lines(row.differences, [...take.trouble, ...(take.differences ?? [])]);
    enable(row.look, readable);
    put(row.look, "aria-expanded", String(this.sight.name === take.name));
    say(row.look, this.sight.name === take.name ? "Close" : "Look");
  }
}

function tabOf({ state, elapsed, unfinished }) {
  if (state === "recording") return `● ${seconds(elapsed)}`;
  if (state === "primed") return "Takes · primed";
  return state === "stopped" ? (unfinished ? "Takes · unfinished" : "Takes · keep?") : "Takes";
}

function factsOf(take) {
  if (take.trouble.length > 0) return "It cannot be played.";
  const when = take.recorded ? dateOf(take.recorded) : "of unknown date";
  const played = take.cues.length ? `, in cue ${list(take.cues)}` : "";
  return `${seconds(take.length)} of ${list(take.rigs)}, ${when}${played}`;
}

function surveyOf({ survey }, same) {
  if (!survey) return "It does not say under which survey it was recorded.";
  return same ? "Surveyed as now." : "Recorded under another survey: it is not played.";
}

function dateOf(text) {
  const date = new Date(text);
  if (Number.isNaN(date.getTime())) return text;
  const two = (value) => String(value).padStart(2, "0");
  return `${date.getFullYear()}-${two(date.getMonth() + 1)}-${two(date.getDate())} ${two(date.getHours())}:${two(date.getMinutes())}`;
}

async function readTakes() {
  try {
    const answer = await fetch("/takes", { cache: "no-store", signal: AbortSignal.timeout(5000) });
    const body = await answer.json();
    return answer.ok ? { takes: body.takes, reasons: [] } : { takes: null, reasons: body.reasons ?? [body.error] };
  } catch {
    return { takes: null, reasons: ["The list of takes could not be read."] };
  }
}

/** Where a take is recorded: choose rigs, prime, begin, stop, keep or discard. */
class Deck {
  constructor(model, kept) {
    this.model = model;
    this.kept = kept;
    this.rigs = el("div", { class: "deck-rigs", role: "group", "aria-label": "Rigs to record" });
    this.boxes = new Map();
    this.hash = null;
    this.state = el("p", { class: "deck-state", role: "status" });
    this.time = el("p", { class: "deck-time", "aria-hidden": "true" });
    this.says = el("p", { class: "deck-says" });
    this.name = el("input", { class: "field", type: "text", maxlength: "64", autocomplete: "off", autocapitalize: "none", spellcheck: "false", "aria-label": "Name of the take" });
    this.nameRow = el("label", { class: "deck-name" }, "Name", this.name);
    this.prime = button("Prime", "deliberate", () => this.ask("prime", this.primed()));
    this.begin = button("Record now", "", () => this.ask("record", { on: true }));
    this.leave = button("Leave it", "", () => this.ask("record", { on: false }));
    this.stop = button("Stop recording", "deliberate", () => this.ask("record", { on: false }));
    this.keep = button("Keep", "deliberate", () => this.ask("keep", this.named()));
    this.discard = button("Discard", "", () => this.sure());
    this.reasons = el("ul", { class: "reasons", role: "status" });
    this.lines = el("pre", { class: "cue-lines", hidden: true });
    this.told = el("p", { class: "quiet", hidden: true });
    const controls = el("div", { class: "deck-controls" }, this.prime, this.begin, this.leave, this.stop, this.keep, this.discard);
    this.root = el("section", { class: "deck", "aria-label": "Record a take" }, this.state, this.time, this.says, this.rigs, this.nameRow, controls, this.reasons, this.told, this.lines);
    this.asked = 0;
    this.surely = false;
    this.was = null;
    this.run = crypto.getRandomValues(new Uint32Array(1))[0].toString(36);
  }

  primed() {
    const rigs = [...this.boxes].filter(([, box]) => box.checked).map(([rig]) => rig);
    return { rigs, ...this.named() };
  }

  named() {
    const name = this.name.value.trim();
    return name ? { name } : {};
  }

  /** What cannot be had back is asked for twice. */
  sure() {
    if (this.surely) this.ask("discard", {});
    else this.surely = true;
    this.model.onChange();
  }

  async ask(method, params) {
    this.asked += 1;
    const answer = await this.model.ask(method, { ...params, key: `${this.run}-${this.asked}` });
    lines(this.reasons, answer.accepted ? [] : answer.reasons);
    if (answer.accepted && method === "keep") {
      this.name.value = "";
      this.tell(answer.result);
      this.kept();
    } else if (answer.accepted) {
      this.tell({});
    }
  }

  /** How a cue plays what was kept. */
  tell({ take, lines }) {
    show(this.told, Boolean(take));
    show(this.lines, Boolean(lines));
    if (take) say(this.told, `Take ${take} is kept. Play it back below; or a cue plays it with:`);
    if (lines) say(this.lines, lines);
  }

  render({ take, hash }) {
    if (this.hash !== hash) this.rebuild(hash);
    const { state } = take;
    if (this.was !== state) this.surely = false;
    if (this.was !== state && state === "stopped" && take.name && !this.name.value) this.name.value = take.name;
    this.was = state;
    put(this.root, "data-take", state);
    const may = this.model.may("operator");
    say(this.state, stateOf(take));
    show(this.time, state === "recording" || state === "stopped");
    say(this.time, clock(take.elapsed));
    say(this.says, saysOf(take));
    show(this.rigs, state === "idle");
    show(this.nameRow, state === "idle" || state === "stopped");
    for (const [one, at] of [[this.prime, "idle"], [this.begin, "primed"], [this.leave, "primed"], [this.stop, "recording"], [this.keep, "stopped"], [this.discard, "stopped"]]) {
      show(one, state === at);
      enable(one, may);
    }
    enable(this.prime, may && [...this.boxes.values()].some((box) => box.checked));
    say(this.discard, this.surely ? "Discard for good" : "Discard");
    if (take.trouble) lines(this.reasons, [take.trouble]);
  }

  rebuild(hash) {
    const { show: script } = this.model;
    if (!script) return;
    this.hash = hash;
    const checked = new Set([...this.boxes].filter(([, box]) => box.checked).map(([rig]) => rig));
    this.boxes = new Map(script.rigs.map(({ name }) => [name, el("input", { type: "checkbox" })]));
    for (const [rig, box] of this.boxes) {
      box.checked = checked.has(rig);
      box.addEventListener("change", () => this.model.onChange());
    }
    this.rigs.replaceChildren(...[...this.boxes].map(([rig, box]) => el("label", { class: "deck-rig" }, box, el("span", {}, rig))));
  }
}

function button(text, kind, press) {
  const made = el("button", { type: "button", class: kind }, text);
  made.addEventListener("click", press);
  return made;
}

function stateOf({ state, unfinished }) {
  if (unfinished) return "An unfinished take";
  return { idle: "Record a take", primed: "Primed", recording: "● Recording", stopped: "Keep it?" }[state] ?? state;
}

function saysOf({ state, unfinished, rigs }) {
  if (unfinished) return `An earlier run was recording ${list(rigs) || "it"} when it ended. Keep it under a name, or discard it.`;
  switch (state) {
    case "idle":
      return "Choose the rigs (machines). Recording begins with their first motion.";
    case "primed":
      return `${list(rigs)}: begins with the first motion, or now.`;
    case "recording":
    case "stopped":
      return list(rigs);
    default:
      return "";
  }
}

/** Minutes, seconds and tenths, whose digits stay in their places. */
function clock(elapsed) {
  const tenths = Math.floor((Number.isFinite(elapsed) ? elapsed : 0) * 10);
  const whole = Math.floor(tenths / 10);
  return `${Math.floor(whole / 60)}:${String(whole % 60).padStart(2, "0")}.${tenths % 10}`;
}

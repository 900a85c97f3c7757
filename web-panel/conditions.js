// Interlocks and inputs, each true, false or unknown by word and shape; and the daemon's own health in figures.

import { byId, el, flag, put, say, show } from "./dom.js";
import { setGlyph, truthWord } from "./glyph.js";
import { number, seconds } from "./words.js";

export class Conditions {
  constructor(model) {
    this.model = model;
    this.interlocks = new Map();
    this.inputs = new Map();
    this.figures = new Map();
    this.machine = byId("machine");
    this.tab = byId("tab-conditions");
    this.hash = null;
  }

  render() {
    const { show: script, status } = this.model;
    if (!script || !status) return;
    if (this.hash !== script.hash) this.rebuild(script);
    for (const [name, row] of this.interlocks) paintTruth(row, status.interlocks[name]);
    for (const [name, row] of this.inputs) {
      if (status.inputs[name]) paintInput(row, status.inputs[name]);
    }
    this.paintTab(status);
    this.paintMachine(status);
  }

  rebuild(script) {
    this.hash = script.hash;
    this.interlocks = rows(byId("interlock-list"), script.interlocks, (interlock) => [
      `guards ${interlock.guards.join(", ")}; needs ${interlock.needs}; otherwise ${interlock.otherwise}`,
    ]);
    this.inputs = rows(byId("input-list"), script.inputs, (input) => [
      `unknown after ${seconds(input.max_age)}${input.trips ? "; stays false until reset" : ""}`,
    ]);
  }

  /** How many interlocks forbid something, so that it is seen from the other tabs as well. */
  paintTab(status) {
    const forbidding = Object.values(status.interlocks).filter((truth) => truth !== true).length;
    say(this.tab, forbidding ? `Conditions (${forbidding} forbid)` : "Conditions");
    flag(this.tab, "abnormal", forbidding > 0);
  }

  paintMachine(status) {
    this.figure("fastest rate", `× ${number(status.rate, 2)}`);
    this.figure("to rest within", seconds(status.stop_bound));
    const loop = status.loop;
    if (loop) {
      this.figure("tick", `${number(loop.tick * 1000, 1)} ms${loop.real_time ? "" : ", without real-time priority"}`);
      this.figure("late", `99 in 100 under ${number(loop.late_p99_ms, 2)} ms, at most ${number(loop.late_max_ms, 2)} ms`);
      this.figure("overruns", String(loop.overruns));
    }
    for (const [name, count] of Object.entries(status.counters ?? {})) {
      if (count > 0 || this.figures.has(name)) this.figure(name, String(count));
    }
    this.figure("show", (status.hash ?? "").slice(0, 12));
  }

  figure(name, text) {
    if (!this.figures.has(name)) {
      const value = el("dd");
      this.machine.append(el("div", {}, el("dt", {}, name.replaceAll("_", " ")), value));
      this.figures.set(name, value);
    }
    say(this.figures.get(name), text);
  }
}

function rows(list, entries, factsOf) {
  const made = new Map();
  for (const entry of entries) {
    const glyph = el("span", { class: "truth-glyph" });
    const word = el("span", { class: "truth-word" });
    const extra = el("span", { class: "condition-extra" });
    const facts = factsOf(entry).map((text) => el("span", { class: "condition-facts" }, text));
    const root = el("li", { "data-condition": entry.name }, glyph, word, el("span", { class: "condition-name" }, entry.name), extra, ...facts);
    made.set(entry.name, { root, glyph, word, extra, maxAge: entry.max_age });
  }
  list.replaceChildren(...[...made.values()].map((row) => row.root));
  if (made.size === 0) list.append(el("li", { class: "quiet" }, "None in this show."));
  return made;
}

function paintTruth(row, truth) {
  const word = truthWord(truth);
  put(row.root, "data-truth", word);
  setGlyph(row.glyph, word);
  say(row.word, word);
}

function paintInput(row, input) {
  paintTruth(row, input.truth);
  const heard = input.value !== null && Number.isFinite(input.age);
  const ago = input.age < 1 ? "less than 1 s" : seconds(Math.floor(input.age));
  const age = heard ? `last said ${truthWord(input.value)} ${ago} ago` : "never heard";
  const fresh = heard && input.age <= row.maxAge;
  say(row.extra, [fresh ? "" : age, input.tripped ? "tripped" : ""].filter(Boolean).join(", "));
  show(row.extra, row.extra.textContent !== "");
}

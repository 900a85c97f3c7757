// A take looked at: each axis with its samples and the smoothed path, how much of the limits it asks for all along, two handles
// to trim it, and what it takes to play it back.

import { el, enable, lines, say, show } from "./dom.js";
import { curve, drawing } from "./take_drawing.js";
import { Handle } from "./trim_handle.js";
import { number, seconds } from "./words.js";

/** The handles rest so long before the daemon is asked what is left between them. */
const SETTLED_MS = 250;
/** s; a take has at least ten samples, a fiftieth of a second apart. */
const LEAST_S = 0.3;

export class TakeSight {
  /** `written()` is called when another take was made. */
  constructor(model, written) {
    this.model = model;
    this.written = written;
    this.name = null;
    this.told = null;
    this.ends = [0, 0];
    this.stretched = false;
    this.asked = 0;
    this.timer = null;
    this.planning = false;
    this.facts = el("p", { class: "sight-facts", role: "status" });
    this.picture = el("div", { class: "sight-picture" });
    this.handles = el("div", { class: "sight-handles" });
    this.from = new Handle("Beginning", (at) => this.trim(0, at));
    this.to = new Handle("End", (at) => this.trim(1, at));
    this.handles.append(this.from.root, this.to.root);
    this.against = el("ul", { class: "reasons" });
    this.play = el("button", { type: "button", class: "deliberate" }, "Play back");
    this.stretch = el("button", { type: "button" }, "");
    this.as = el("input", { class: "field", type: "text", maxlength: "64", autocomplete: "off", autocapitalize: "none", spellcheck: "false", "aria-label": "Name of the trimmed take" });
    this.write = el("button", { type: "button" }, "Write the trimmed take");
    this.trimmed = el("div", { class: "sight-trim", hidden: true }, this.as, this.write);
    this.reasons = el("ul", { class: "reasons", role: "status" });
    this.says = el("p", { class: "quiet", role: "status" });
    this.lines = el("pre", { class: "cue-lines" });
    this.cue = el("details", {}, el("summary", {}, "As a move of a cue"), this.lines);
    this.controls = el("div", { class: "sight-controls" }, this.play, this.stretch);
    this.root = el("div", { class: "sight", hidden: true }, this.facts, this.picture, this.handles, this.against, this.trimmed, this.controls, this.reasons, this.says, this.cue);
    this.play.addEventListener("click", () => this.playBack(1));
    this.stretch.addEventListener("click", () => this.playBack(this.slower()));
    this.write.addEventListener("click", () => this.cut());
  }

  /** Opens a take, or with null closes what is open. */
  open(name) {
    this.name = name;
    this.told = null;
    this.ends = [0, Infinity];
    show(this.root, name !== null);
    lines(this.reasons, []);
    this.as.value = "";
    if (name !== null) this.look();
    this.model.onChange();
  }

  isTrimmed() {
    return this.told !== null && (this.ends[0] > 0 || this.ends[1] < this.told.whole);
  }

  trim(end, at) {
    const { whole } = this.told;
    this.ends[end] = end === 0 ? Math.min(Math.max(0, at), this.ends[1] - LEAST_S) : Math.max(Math.min(whole, at), this.ends[0] + LEAST_S);
    clearTimeout(this.timer);
    this.timer = setTimeout(() => this.look(), SETTLED_MS);
    this.model.onChange();
  }

  async look() {
    const { name } = this;
    this.asked += 1;
    const asked = this.asked;
    const cut = this.isTrimmed() ? `?from=${this.ends[0].toFixed(4)}&to=${this.ends[1].toFixed(4)}` : "";
    const { told, reasons } = await readTake(name, cut);
    if (name !== this.name || asked !== this.asked) return;
    lines(this.against, reasons);
    if (told) {
      this.told = told;
      if (!cut) this.ends = [0, told.whole];
      this.picture.replaceChildren(drawing(told), curve(told));
      lines(this.against, [...told.differences, ...told.against]);
    }
    this.model.onChange();
  }

  render() {
    if (this.name === null || !this.told) return;
    const { told } = this;
    const may = this.model.may("operator");
    const trimmed = this.isTrimmed();
    this.from.show(this.ends[0], told.whole);
    this.to.show(this.ends[1], told.whole);
    say(this.facts, factsOf(told, trimmed));
    show(this.trimmed, trimmed);
    enable(this.write, may && this.as.value.trim() !== "");
    const tight = told.least_stretch > 1;
    show(this.stretch, tight);
    say(this.stretch, `Play back stretched to ${number(this.slower(), 3)}`);
    // What was cut out is a take of its own first: what is played back is what a cue would play.
    enable(this.play, may && !trimmed && !tight);
    enable(this.stretch, may && !trimmed);
    say(this.says, this.standing());
    say(this.lines, told.lines);
    show(this.cue, !trimmed);
  }

  slower() {
    return Math.ceil(this.told.least_stretch * 1000 + 1e-6) / 1000;
  }

  async playBack(stretch) {
    this.planning = true;
    this.model.onChange();
    const params = stretch === 1 ? { take: this.name } : { take: this.name, stretch };
    const answer = await this.model.ask("play", params);
    this.planning = false;
    lines(this.reasons, answer.accepted ? [] : answer.reasons);
    this.model.onChange();
  }

  /** What has become of playing it back. */
  standing() {
    const { standby, playback } = this.model.status;
    if (this.planning) return "Planning it from where the rigs stand …";
    const [entry] = standby.filter(({ cue }) => cue === "take");
    if (!entry || playback?.take !== this.name) return "";
    return entry.ready ? "It is on standby: GO plays it." : "It is on standby. If its rigs stand elsewhere, preset them, then play it back again.";
  }

  async cut() {
    const name = this.as.value.trim();
    const [from, to] = this.ends;
    const answer = await this.model.ask("trim", { take: this.name, from, to, name });
    lines(this.reasons, answer.accepted ? [] : answer.reasons);
    if (!answer.accepted) return;
    this.open(null);
    this.written();
  }
}

function factsOf({ length, least_stretch, rigs, plays_in }, trimmed) {
  const rig = rigs.filter(Boolean).reduce((one, other) => ((other.least_stretch ?? 0) > (one?.least_stretch ?? 0) ? other : one), null);
  const tight = rig?.tightest;
  const where = tight ? `, for the ${tight.limit} of ${tight.axis}, ${number(tight.at, 1)} s into it` : "";
  const whole = trimmed ? "What is left lasts" : "It lasts";
  const keeps = least_stretch > 1 ? "It breaks limits as recorded" : "It keeps every limit";
  return `${whole} ${number(length, 1)} s. ${keeps}: least stretch ${number(least_stretch, 3)}${where}. Played in ${seconds(plays_in)}.`;
}

async function readTake(name, cut) {
  try {
    const answer = await fetch(`/take/${encodeURIComponent(name)}${cut}`, { cache: "no-store", signal: AbortSignal.timeout(30000) });
    const body = await answer.json();
    return answer.ok ? { told: body, reasons: [] } : { told: null, reasons: body.reasons ?? [body.error] };
  } catch {
    return { told: null, reasons: ["The take could not be looked at."] };
  }
}

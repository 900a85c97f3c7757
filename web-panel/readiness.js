// The standby cue, whether it is ready, every reason why not, and GO.

import { byId, enable, flag, lines, say, show } from "./dom.js";
import { callOf } from "./order.js";
import { doubt } from "./press.js";
import { HoldToRun } from "./hold_to_run.js";
import { list, seconds } from "./words.js";

/** GO stays closed so long after the standby has changed: nobody can have read it sooner. */
const READ_MS = 400;
/** And so long after a press, whatever the answer. */
const BOUNCE_MS = 700;

export class Readiness {
  constructor(model, fingers) {
    this.model = model;
    this.fingers = fingers;
    this.card = byId("standby");
    this.number = byId("standby-number");
    this.name = byId("standby-name");
    this.ready = byId("standby-ready");
    this.call = byId("standby-call");
    this.moves = byId("standby-moves");
    this.reasons = byId("standby-reasons");
    this.refused = byId("go-reasons");
    this.skip = byId("standby-skip");
    this.place = byId("standby-place");
    this.preset = byId("standby-preset");
    this.held = byId("standby-held");
    this.hand = new HoldToRun(this.held, () => this.model.may("operator"), () => this.send("preset", { cue: this.leadsTo(), held: true }));
    this.go = byId("go");
    this.head = "";
    this.headAt = -Infinity;
    this.pressedAt = -Infinity;
    this.waiting = false;
    this.presses = 0;
    this.run = crypto.getRandomValues(new Uint32Array(1))[0].toString(36);
    this.go.addEventListener("pointerdown", (event) => this.press(event));
    // A long touch would open a menu over the stage.
    this.go.addEventListener("contextmenu", (event) => event.preventDefault());
    this.skip.addEventListener("click", () => this.acknowledge());
    this.place.addEventListener("click", () => this.goOnFrom(this.first().cue));
    this.preset.addEventListener("click", () => this.send("preset", { cue: this.first().cue }));
  }

  first() {
    return this.model.status?.standby[0] ?? null;
  }

  press(event) {
    event.preventDefault();
    // A disabled button still hears a press in some browsers.
    if (this.go.disabled || this.waiting) return;
    const now = performance.now();
    if (now - this.pressedAt < BOUNCE_MS) return;
    const entry = this.first();
    const reason = doubt(event, this.fingers) ?? this.unread(entry, now);
    if (reason) this.refuse([reason]);
    else this.fire(entry.cue);
  }

  unread(entry, now) {
    if (!this.model.fresh()) return "The picture is old. Nothing was sent.";
    // The newest status may be one frame ahead of what is drawn.
    if (headOf(entry) !== this.head || now - this.headAt < READ_MS) return "The standby has only just changed. Look, then press GO.";
    return null;
  }

  async fire(cue) {
    this.pressedAt = performance.now();
    this.presses += 1;
    this.waiting = true;
    this.refuse([]);
    this.render();
    const answer = await this.model.ask("go", { cue, key: `${this.run}-${this.presses}` });
    this.waiting = false;
    if (!answer.accepted) this.refuse(answer.reasons.map((reason) => `GO refused: ${reason}`));
    this.render();
    setTimeout(() => this.render(), BOUNCE_MS);
  }

  refuse(reasons) {
    lines(this.refused, reasons);
  }

  acknowledge() {
    this.send("standby", { cues: this.model.status.standby.map((entry) => entry.cue), skip: true });
  }

  /** After a restart of the daemon: what came before is taken for done. */
  async goOnFrom(cue) {
    const placed = await this.send("place", { cue });
    if (placed) this.send("standby", { cues: [cue] });
  }

  async send(method, params) {
    const answer = await this.model.ask(method, params);
    if (!answer.accepted) this.refuse(answer.reasons);
    return answer.accepted;
  }

  /** The cue that the preset on standby or under way leads to. */
  leadsTo() {
    return this.model.status.preset?.cue;
  }

  render() {
    const { model } = this;
    const entry = this.first();
    this.notice(entry);
    const may = model.may("caller");
    const bounced = performance.now() - this.pressedAt < BOUNCE_MS;
    enable(this.go, may && entry !== null && entry.ready && !this.waiting && !bounced);
    flag(this.card, "ready", entry?.ready === true);
    flag(this.card, "not-ready", entry?.ready === false);
    // Under a thumb that holds its button the card of a preset stays as it is, though the standby is taken.
    const driven = entry === null && this.byHand(null);
    const number = driven ? "preset" : (entry?.cue ?? "");
    say(this.number, number);
    flag(this.number, "long", number.length > 5);
    show(this.number, number !== "");
    say(this.name, entry ? this.titleOf(entry) : driven ? this.wayTitle() : "Nothing on standby");
    say(this.ready, this.verdict(entry));
    const cue = entry ? this.model.cue(entry.cue) : null;
    say(this.call, cue ? callLine(cue) : this.unlisted(entry));
    // What is out of place and not in the way, before what will move.
    const moves = cue ? cue.moves : legsOf(this.model.status?.preset);
    lines(this.moves, entry?.ready ? [...(entry.notes ?? []), ...moves] : []);
    lines(this.reasons, entry ? entry.reasons : []);
    show(this.skip, may && entry !== null && entry.reasons.some(isSkip));
    enable(this.skip, may);
    show(this.place, may && entry !== null && entry.reasons.some(isSkip) && this.atTheTop());
    show(this.preset, may && entry !== null && entry.preset === true);
    if (entry) say(this.preset, `Preset the rigs for ${entry.cue === "take" ? "the take" : entry.cue}`);
    // It stays where it is while it is held: the standby is taken by the first press.
    show(this.held, model.may("operator") && this.byHand(entry));
    for (const button of [this.place, this.preset]) enable(button, may);
    enable(this.held, model.may("operator"));
    this.hand.check();
  }

  /** A preset of real rigs stands on standby, or is under way and nothing stands on standby behind it. */
  byHand(entry) {
    const { status } = this.model;
    if (status?.preset?.by_hand !== true) return false;
    return entry ? entry.cue === "preset" : status.running.some((one) => one.cue === "preset");
  }

  /** Nothing has run since the daemon was started, as far as the list shows. */
  atTheTop() {
    return Object.values(this.model.status.cues).every((state) => state === "idle" || state === "standby");
  }

  /** Notes when the first standby changed, and clears what was said about the one before. */
  notice(entry) {
    const head = headOf(entry);
    if (head === this.head) return;
    this.head = head;
    this.headAt = performance.now();
    if (entry) this.refuse([]);
  }

  wayTitle() {
    return wayTo(this.leadsTo());
  }

  titleOf(entry) {
    if (entry.cue === "preset") return this.wayTitle();
    if (entry.cue === "take") return this.takeTitle(entry);
    const name = entry.name ?? this.model.cue(entry.cue)?.name ?? "";
    if (entry.returning) return `Back to the start of ${name}`;
    return entry.from > 0 ? `${name}, from ${seconds(entry.from)} on` : name;
  }

  /** Which take it is that is played back, by no cue. */
  takeTitle(entry) {
    const { take = "", stretch = 1 } = this.model.status.playback ?? {};
    const slower = stretch === 1 ? "" : `, stretched to ${stretch}`;
    const from = !entry.returning && entry.from > 0 ? `, from ${seconds(entry.from)} on` : "";
    return `${entry.returning ? "Back to the start of take" : "Take"} ${take}${slower}${from}`;
  }

  /** What belongs to no cue of the list. */
  unlisted(entry) {
    if (entry?.cue === "preset") return "Proved clear of the other rigs where they are measured. Watch it for people.";
    if (entry?.cue !== "take") return "";
    const { duration, cautions = [] } = this.model.status.playback ?? {};
    return [`${seconds(duration)}, played back by no cue. Watch it for people.`, ...cautions].join(" · ");
  }

  verdict(entry) {
    if (!entry && this.byHand(null)) return "Moves while its button is held. Watch the rigs: people may have stepped in.";
    if (!entry) return this.model.show ? "Choose a cue in the running order." : "Waiting for the show.";
    const after = this.model.status.standby.slice(1).map((next) => next.cue);
    const then = after.length ? ` Then ${list(after)}.` : "";
    const count = entry.reasons.length;
    const ready = entry.ready ? "READY" : `NOT READY, ${count} ${count === 1 ? "reason" : "reasons"}`;
    return ready + besides(entry.clear ?? []) + then;
  }
}

/** Where a preset leads. */
export function wayTo(cue) {
  return `The way to where ${cue === "take" ? "the take" : cue} starts`;
}

/** When it may be fired beside what runs, s of the show's clock from now; nothing to say if that is always. */
function besides([first, second]) {
  if (!first) return "";
  const [from, to] = first;
  if (from > 0) return `. Clear of what runs in ${seconds(from)}`;
  if (to === null) return "";
  return `. Clear of what runs for ${seconds(to)}` + (second ? `, and again in ${seconds(second[0])}` : "");
}

/** One rig at a time. */
function legsOf(preset) {
  const mark = (leg) => (leg.to_mark ? `, as far as its mark ${leg.to_mark}: preset again from there` : "");
  return (preset?.rigs ?? []).map((leg) => `${leg.rig} from ${seconds(leg.from)} to ${seconds(leg.until)}${mark(leg)}`);
}

function callLine(cue) {
  return [callOf(cue), cue.watch ? `watch: ${cue.watch}` : "", seconds(cue.duration)].filter(Boolean).join(" · ");
}

function headOf(entry) {
  return entry ? `${entry.cue} ${entry.returning} ${entry.from}` : "";
}

/** The one reason that the operator may answer with a word: cues would be passed over. */
export function isSkip(reason) {
  return /\bpass(es|ed|ing)? over\b|\bskip(s|ped|ping)?\b/i.test(reason);
}

// The standby cue, whether it is ready, every reason why not, and GO.

import { byId, enable, flag, lines, say, show } from "./dom.js";
import { callOf } from "./order.js";
import { doubt } from "./press.js";
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

  async acknowledge() {
    const cues = this.model.status.standby.map((entry) => entry.cue);
    const answer = await this.model.ask("standby", { cues, skip: true });
    if (!answer.accepted) this.refuse(answer.reasons);
  }

  render() {
    const { model } = this;
    const entry = this.first();
    this.notice(entry);
    const live = model.live();
    const bounced = performance.now() - this.pressedAt < BOUNCE_MS;
    enable(this.go, live && entry !== null && entry.ready && !this.waiting && !bounced);
    flag(this.card, "ready", entry?.ready === true);
    flag(this.card, "not-ready", entry?.ready === false);
    say(this.number, entry ? entry.cue : "");
    show(this.number, entry !== null);
    say(this.name, entry ? this.titleOf(entry) : "Nothing on standby");
    say(this.ready, this.verdict(entry));
    const cue = entry ? this.model.cue(entry.cue) : null;
    say(this.call, cue ? callLine(cue) : "");
    lines(this.moves, entry?.ready && cue ? cue.moves : []);
    lines(this.reasons, entry ? entry.reasons : []);
    show(this.skip, live && entry !== null && entry.reasons.some(isSkip));
    enable(this.skip, live);
  }

  /** Notes when the first standby changed, and clears what was said about the one before. */
  notice(entry) {
    const head = headOf(entry);
    if (head === this.head) return;
    this.head = head;
    this.headAt = performance.now();
    if (entry) this.refuse([]);
  }

  titleOf(entry) {
    const name = entry.name ?? this.model.cue(entry.cue)?.name ?? "";
    if (entry.returning) return `Back to the start of ${name}`;
    return entry.from > 0 ? `${name}, from ${seconds(entry.from)} on` : name;
  }

  verdict(entry) {
    if (!entry) return this.model.show ? "Choose a cue in the running order." : "Waiting for the show.";
    const after = this.model.status.standby.slice(1).map((next) => next.cue);
    const then = after.length ? ` Then ${list(after)}.` : "";
    const count = entry.reasons.length;
    return (entry.ready ? "READY" : `NOT READY, ${count} ${count === 1 ? "reason" : "reasons"}`) + then;
  }
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

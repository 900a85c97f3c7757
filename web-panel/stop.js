// The stop of this panel. It acts on the press, is never disabled, waits for nothing and asks nobody: every press goes
// out over the socket and as a plain POST at once, and again until one of them is answered.

import { byId, flag, say } from "./dom.js";
import { seconds } from "./words.js";

const AGAIN_MS = 400;
const GIVE_UP_MS = 4000;
const POST_MS = 1500;
/** What a press came to stays in view so long after the stop has gone again. */
const SAY_MS = 6000;

export class Stop {
  constructor(model) {
    this.model = model;
    this.button = byId("stop");
    this.says = byId("stop-says");
    /** null, or { at, taken, failed } of the newest press. */
    this.press = null;
    this.pressed = 0;
    this.button.addEventListener("pointerdown", (event) => {
      event.preventDefault();
      this.now();
    });
    // Assistive technology and the Enter key come as a click without a press before it.
    this.button.addEventListener("click", () => {
      if (performance.now() - this.pressed > 1000) this.now();
    });
  }

  now() {
    this.pressed = performance.now();
    const press = { at: this.pressed, taken: false, failed: false };
    this.press = press;
    this.send(press);
    this.render();
  }

  send(press) {
    const taken = () => {
      press.taken = true;
      this.render();
    };
    this.model.link.call("stop").then((answer) => answer.accepted && taken());
    post().then((reached) => reached && taken());
    setTimeout(() => this.again(press), AGAIN_MS);
  }

  /** A stop that nobody has answered is pressed again on the operator's behalf, for as long as the press is recent. */
  again(press) {
    if (press.taken || press !== this.press) return;
    if (performance.now() - press.at < GIVE_UP_MS) this.send(press);
    else press.failed = true;
    this.render();
  }

  render() {
    const { status } = this.model;
    const stopped = this.model.live() ? status.stopped : null;
    const text = this.outcome(stopped);
    say(this.says, text ?? this.bound());
    flag(this.says, "not-reached", this.press?.failed === true && !stopped);
    flag(this.button, "latched", Boolean(stopped));
  }

  outcome(stopped) {
    if (stopped) return stopped.standstill ? "Taken. Standing still." : "Taken. Coming to rest …";
    const press = this.press;
    if (!press) return null;
    const since = performance.now() - press.at;
    if (press.failed) return "NOT REACHED: use emergency stop";
    if (press.taken && since < SAY_MS) {
      return this.model.live() ? "Taken." : "Taken. Standstill not seen.";
    }
    return press.taken ? null : "Calling …";
  }

  bound() {
    const bound = this.model.status?.stop_bound;
    if (!this.model.live() || !(bound > 0)) return "Key: Escape";
    return `Key: Escape. To rest within ${seconds(bound)}.`;
  }
}

async function post() {
  try {
    const answer = await fetch("/stop", { method: "POST", keepalive: true, signal: AbortSignal.timeout(POST_MS) });
    return answer.ok;
  } catch {
    return false;
  }
}

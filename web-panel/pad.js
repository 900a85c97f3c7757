// A pad under one finger: a stick for two axes of a rig. Where the finger comes down is zero, so that a touch starts
// nothing; how far it is drawn from there is how fast the axes go. It is hold-to-run: let go of, or lost in any way, it says
// zero at once, and silence is zero to the daemon too.

import { flag } from "./dom.js";

/** The daemon takes a stick that is silent for 150 ms for zero. */
const REPEAT_MS = 40;
/** From zero to full, px. */
const REACH_PX = 90;
/** More than this is a palm or a sleeve. */
const PALM_PX = 100;
/** A press that waited so long in the browser's queue was made on an older picture. */
const QUEUED_MS = 300;

export class Pad {
  /** `allowed()` is asked before everything but zero; `say(across, up)` says both, each -1 to 1. */
  constructor(surface, knob, allowed, say) {
    this.surface = surface;
    this.knob = knob;
    this.allowed = allowed;
    this.say = say;
    this.finger = null;
    this.zero = [0, 0];
    this.drawn = [0, 0];
    this.timer = null;
    surface.addEventListener("pointerdown", (event) => this.press(event));
    surface.addEventListener("pointermove", (event) => this.draw(event));
    for (const kind of ["pointerup", "pointercancel", "lostpointercapture"]) {
      surface.addEventListener(kind, (event) => event.pointerId === this.finger && this.release());
    }
    surface.addEventListener("contextmenu", (event) => event.preventDefault());
    addEventListener("blur", () => this.release());
    document.addEventListener("visibilitychange", () => this.release());
    addEventListener("pagehide", () => this.release());
  }

  press(event) {
    event.preventDefault();
    const late = performance.now() - event.timeStamp > QUEUED_MS;
    const wide = event.width > PALM_PX || event.height > PALM_PX;
    if (this.finger !== null || event.button !== 0 || !event.isTrusted || late || wide || !this.possible()) return;
    this.surface.setPointerCapture(event.pointerId);
    this.finger = event.pointerId;
    this.zero = [event.clientX, event.clientY];
    this.timer = setInterval(() => this.repeat(), REPEAT_MS);
    flag(this.surface, "pressed", true);
    this.move(0, 0);
  }

  draw(event) {
    if (event.pointerId !== this.finger) return;
    const part = (now, from) => Math.min(1, Math.max(-1, (now - from) / REACH_PX));
    this.move(part(event.clientX, this.zero[0]), -part(event.clientY, this.zero[1]));
  }

  move(across, up) {
    const was = this.drawn;
    this.drawn = [across, up];
    const box = this.surface.getBoundingClientRect();
    const from = [this.zero[0] - box.left, this.zero[1] - box.top];
    this.knob.style.left = `${from[0] + across * REACH_PX}px`;
    this.knob.style.top = `${from[1] - up * REACH_PX}px`;
    // Between two repeats only what has changed direction: the rest waits some milliseconds.
    if (was[0] * across <= 0 && was[1] * up <= 0) this.repeat();
  }

  repeat() {
    if (this.possible()) this.say(...this.drawn);
    else this.release();
  }

  /** Called at each picture: a pad that was taken away is no longer held. */
  check() {
    if (this.finger !== null && !this.possible()) this.release();
  }

  possible() {
    return this.allowed() && this.surface.isConnected && document.visibilityState === "visible";
  }

  release() {
    if (this.finger === null) return;
    clearInterval(this.timer);
    this.finger = null;
    this.drawn = [0, 0];
    flag(this.surface, "pressed", false);
    this.say(0, 0);
  }
}

// A button that drives only while one fingertip is on it: what a stick is, as a button. It says so again and again, since silence
// is zero to the daemon; let go of, or lost in any way, it says zero at once. The first thing that it says is zero too.

import { flag } from "./dom.js";

/** The daemon takes what is silent for 150 ms for let go of. */
const REPEAT_MS = 40;
/** More than this is a palm or a sleeve. */
const PALM_PX = 100;
/** A press that waited so long in the browser's queue was made on an older picture. */
const QUEUED_MS = 300;

export class HoldButton {
  /** `allowed()` is asked before everything but zero; `say(on)` says it; `begin()`, if there is one, is told of each press. */
  constructor(button, allowed, say, begin = () => {}) {
    this.button = button;
    this.allowed = allowed;
    this.say = say;
    this.begin = begin;
    this.finger = null;
    this.timer = null;
    button.addEventListener("pointerdown", (event) => this.press(event));
    for (const kind of ["pointerup", "pointercancel", "lostpointercapture"]) {
      button.addEventListener(kind, (event) => event.pointerId === this.finger && this.release());
    }
    // Captured, a finger that slides off still counts for the button: only its place tells that it has left.
    button.addEventListener("pointermove", (event) => event.pointerId === this.finger && this.leaves(event) && this.release());
    button.addEventListener("contextmenu", (event) => event.preventDefault());
    addEventListener("blur", () => this.release());
    document.addEventListener("visibilitychange", () => this.release());
    addEventListener("pagehide", () => this.release());
  }

  press(event) {
    event.preventDefault();
    const late = performance.now() - event.timeStamp > QUEUED_MS;
    const wide = event.width > PALM_PX || event.height > PALM_PX;
    if (this.finger !== null || event.button !== 0 || !event.isTrusted || late || wide || !this.possible()) return;
    this.button.setPointerCapture(event.pointerId);
    this.finger = event.pointerId;
    flag(this.button, "pressed", true);
    this.say(false);
    this.begin();
    this.timer = setInterval(() => this.repeat(), REPEAT_MS);
  }

  leaves({ clientX, clientY }) {
    const { left, right, top, bottom } = this.button.getBoundingClientRect();
    return clientX < left || clientX > right || clientY < top || clientY > bottom;
  }

  repeat() {
    if (this.possible()) this.say(true);
    else this.release();
  }

  /** Called at each picture: a button that was taken away is no longer held. */
  check() {
    if (this.finger !== null && !this.possible()) this.release();
  }

  possible() {
    return this.allowed() && this.button.isConnected && !this.button.disabled && document.visibilityState === "visible";
  }

  release() {
    if (this.finger === null) return;
    clearInterval(this.timer);
    this.finger = null;
    flag(this.button, "pressed", false);
    this.say(false);
  }
}

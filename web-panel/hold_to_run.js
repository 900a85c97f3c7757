// A button that acts only while it is held. It repeats its request; the daemon stops the motion by itself when the
// repeats cease, so a finger that slips, a lost focus or a lost link all end it. So does a refusal: what was refused
// must not begin by itself once its reason is gone, so it takes another press.

import { flag } from "./dom.js";

/** The daemon lets go 0.6 s after the last repeat. */
const REPEAT_MS = 200;

export class HoldToRun {
  /** `allowed()` is asked before every repeat; `send()` makes one request and promises whether it was accepted. */
  constructor(button, allowed, send) {
    this.button = button;
    this.allowed = allowed;
    this.send = send;
    this.timer = null;
    this.presses = 0;
    button.addEventListener("pointerdown", (event) => this.press(event));
    for (const kind of ["pointerup", "pointercancel", "pointerleave", "lostpointercapture"]) {
      button.addEventListener(kind, () => this.release());
    }
    button.addEventListener("contextmenu", (event) => event.preventDefault());
    addEventListener("blur", () => this.release());
    document.addEventListener("visibilitychange", () => this.release());
  }

  press(event) {
    event.preventDefault();
    if (event.button !== 0 || !this.possible()) return;
    this.release();
    this.presses += 1;
    this.timer = setInterval(() => this.repeat(), REPEAT_MS);
    flag(this.button, "pressed", true);
    this.ask();
  }

  async ask() {
    const press = this.presses;
    const accepted = await this.send();
    // The answer to a press before this one says nothing of it.
    if (!accepted && press === this.presses) this.release();
  }

  repeat() {
    if (this.possible()) this.ask();
    else this.release();
  }

  /** Called at each picture: a button that was taken away is no longer held. */
  check() {
    if (this.timer !== null && !this.possible()) this.release();
  }

  possible() {
    return this.allowed() && this.button.isConnected && !this.button.hidden && !this.button.disabled;
  }

  release() {
    clearInterval(this.timer);
    this.timer = null;
    flag(this.button, "pressed", false);
  }
}

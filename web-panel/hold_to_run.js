// A button that acts only while it is held. It repeats its request; the daemon stops the motion by itself when the
// repeats cease, so a finger that slips, a lost focus or a lost link all end it. So does a refusal: what was refused
// must not begin by itself once its reason is gone, so it takes another press.

import { flag } from "./dom.js";
import { Grasp, isBeside } from "./grasp.js";

/** The daemon lets go 0.6 s after the last repeat. */
const REPEAT_MS = 200;

export class HoldToRun {
  /** `allowed()` is asked before every repeat; `send()` makes one request and promises whether it was accepted. */
  constructor(button, allowed, send) {
    this.send = send;
    this.presses = 0;
    this.grasp = new Grasp(button, allowed, REPEAT_MS, {
      taken: () => {
        this.presses += 1;
        flag(button, "pressed", true);
        this.ask();
      },
      moved: (event) => isBeside(event, button) && this.release(),
      goesOn: () => this.ask(),
      lost: () => flag(button, "pressed", false),
    });
  }

  async ask() {
    const press = this.presses;
    const accepted = await this.send();
    // The answer to a press before this one says nothing of it.
    if (!accepted && press === this.presses) this.release();
  }

  check() {
    this.grasp.check();
  }

  release() {
    this.grasp.release();
  }
}

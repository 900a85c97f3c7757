// A button that drives only while one fingertip is on it: what a stick is, as a button. It says so again and again, since silence
// is zero to the daemon; let go of, or lost in any way, it says zero at once. The first thing that it says is zero too.

import { flag } from "./dom.js";
import { Grasp, isBeside } from "./grasp.js";

/** The daemon takes what is silent for 150 ms for let go of. */
const REPEAT_MS = 40;

export class HoldButton {
  /** `allowed()` is asked before everything but zero; `say(on)` says it; `begin()`, if there is one, is told of each press. */
  constructor(button, allowed, say, begin = () => {}) {
    this.button = button;
    this.grasp = new Grasp(button, allowed, REPEAT_MS, {
      taken: () => {
        flag(button, "pressed", true);
        say(false);
        begin();
      },
      moved: (event) => isBeside(event, button) && this.release(),
      goesOn: () => say(true),
      lost: () => {
        flag(button, "pressed", false);
        say(false);
      },
    });
  }

  check() {
    this.grasp.check();
  }

  release() {
    this.grasp.release();
  }
}

// A pad under one finger: a stick for two axes of a rig. Where the finger comes down is zero, so that a touch starts
// nothing; how far it is drawn from there is how fast the axes go. It is hold-to-run: let go of, or lost in any way, it says
// zero at once, and silence is zero to the daemon too.

import { flag } from "./dom.js";
import { Grasp } from "./grasp.js";

/** The daemon takes a stick that is silent for 150 ms for zero. */
const REPEAT_MS = 40;
/** From zero to full, px. */
const REACH_PX = 90;
export class Pad {
  /** `allowed()` is asked before everything but zero; `say(across, up)` says both, each -1 to 1. */
  constructor(surface, knob, allowed, say) {
    [this.surface, this.knob] = [surface, knob];
    this.zero = [0, 0];
    this.drawn = [0, 0];
    this.grasp = new Grasp(surface, allowed, REPEAT_MS, {
      taken: (event) => this.begin(event),
      moved: (event) => this.draw(event),
      goesOn: () => say(...this.drawn),
      lost: () => {
        this.drawn = [0, 0];
        flag(surface, "pressed", false);
        say(0, 0);
      },
    });
  }

  begin({ clientX, clientY }) {
    this.zero = [clientX, clientY];
    flag(this.surface, "pressed", true);
    this.move(0, 0);
  }

  draw(event) {
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
    if (was[0] * across <= 0 && was[1] * up <= 0) this.grasp.goOn();
  }

  check() {
    this.grasp.check();
  }

  release() {
    this.grasp.release();
  }
}

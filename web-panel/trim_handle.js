// One end of what is left of a take, drawn along its time with a finger or with the arrow keys.

import { el, put, say } from "./dom.js";
import { number } from "./words.js";

const STEP_S = 0.1;
const LEAP_S = 1;

export class Handle {
  /** `move(at)` is told where it is drawn to, s. */
  constructor(label, move) {
    this.move = move;
    this.whole = 1;
    this.at = 0;
    this.figure = el("span", { class: "handle-figure" });
    this.root = el("div", { class: "handle", role: "slider", tabindex: "0", "aria-label": label, "aria-valuemin": "0" }, el("span", { class: "handle-grip", "aria-hidden": "true" }), this.figure);
    this.root.addEventListener("pointerdown", (event) => this.press(event));
    this.root.addEventListener("pointermove", (event) => this.draw(event));
    this.root.addEventListener("keydown", (event) => this.key(event));
  }

  press(event) {
    if (event.button !== 0) return;
    event.preventDefault();
    this.root.focus();
    this.root.setPointerCapture(event.pointerId);
  }

  draw(event) {
    if (!this.root.hasPointerCapture(event.pointerId)) return;
    const lane = this.root.parentNode.getBoundingClientRect();
    this.move((this.whole * (event.clientX - lane.left)) / lane.width);
  }

  key(event) {
    const step = { ArrowLeft: -STEP_S, ArrowDown: -STEP_S, ArrowRight: STEP_S, ArrowUp: STEP_S, PageDown: -LEAP_S, PageUp: LEAP_S }[event.key];
    const end = { Home: 0, End: this.whole }[event.key];
    if (step === undefined && end === undefined) return;
    event.preventDefault();
    this.move(end ?? this.at + step);
  }

  show(at, whole) {
    [this.at, this.whole] = [at, whole];
    this.root.style.left = `${(100 * at) / whole}%`;
    put(this.root, "aria-valuemax", whole.toFixed(1));
    put(this.root, "aria-valuenow", at.toFixed(1));
    put(this.root, "aria-valuetext", `${at.toFixed(1)} seconds`);
    say(this.figure, `${number(at, 1)} s`);
  }
}

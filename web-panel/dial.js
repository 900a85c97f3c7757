// A dial for one axis of a rig in hand: its whole surveyed travel from end to end. It is inactive until it has passed where the
// axis stands, and shows which way to draw for that; from there on the axis goes where the dial is. Hold-to-run: let go of,
// or lost in any way, it lets go of the axis at once, which brakes.

import { el, flag, put, say, show } from "./dom.js";
import { Grasp } from "./grasp.js";
import { decimalsFor, number, Steady, unit } from "./words.js";

const REPEAT_MS = 40;
/** Of the travel, as long as an arrow key is held; with the page keys five times as much. */
const KEY_PER_S = 0.1;
const KEYS = { ArrowRight: 1, ArrowUp: 1, ArrowLeft: -1, ArrowDown: -1, PageUp: 5, PageDown: -5 };
/** As near as this share of its travel a dial stands where its axis does, to the daemon too. */
const NEAR = 1e-3;

export class Dial {
  /** `allowed()` is asked before everything but letting go; `say(value)` says 0 to 1, or null to let go. */
  constructor(axis, allowed, tell) {
    [this.axis, this.tell] = [axis, tell];
    [this.low, this.high] = axis.travel;
    this.steady = new Steady(decimalsFor(axis.tolerance));
    /** Where the axis stands and where the dial is, 0 to 1; null while nobody holds it. */
    this.stands = 0;
    this.value = null;
    this.picked = false;
    /** Of the travel in a second, by a key. */
    this.pace = 0;
    const [low, high] = [this.low, this.high].map((end) => number(end, Number.isInteger(end) ? 0 : 1));
    this.figure = el("span", { class: "dial-figure" });
    this.way = el("span", { class: "dial-way", role: "status" });
    this.mark = el("span", { class: "dial-stands", "aria-hidden": "true" });
    this.thumb = el("span", { class: "dial-thumb", "aria-hidden": "true" });
    this.gap = el("span", { class: "dial-gap", "aria-hidden": "true" });
    this.lane = el("span", { class: "dial-lane" }, this.gap, this.mark, this.thumb);
    const name = `Dial of ${axis.name}: it drives while it is held`;
    this.surface = el("div", { class: "dial", role: "slider", tabindex: "0", "aria-label": name, "aria-valuemin": String(this.low), "aria-valuemax": String(this.high) }, this.lane);
    const ends = el("p", { class: "dial-ends", "aria-hidden": "true" }, el("span", {}, low), this.way, el("span", {}, high));
    this.root = el("div", { class: "dial-row", "data-dial": axis.name }, el("p", { class: "dial-name" }, axis.name, this.figure), this.surface, ends);
    this.grasp = new Grasp(this.surface, allowed, REPEAT_MS, {
      taken: (event) => this.begin(event),
      moved: (event) => this.turn(this.at(event)),
      goesOn: () => this.turn(Math.min(1, Math.max(0, this.value + this.pace * (REPEAT_MS / 1000)))),
      lost: () => this.letGo(),
    });
    this.surface.addEventListener("keydown", (event) => this.pressKey(event));
    this.surface.addEventListener("keyup", (event) => event.key === this.grasp.by && this.release());
    this.surface.addEventListener("blur", () => this.release());
  }

  at(event) {
    const lane = this.lane.getBoundingClientRect();
    return Math.min(1, Math.max(0, (event.clientX - lane.left) / lane.width));
  }

  pressKey(event) {
    if (KEYS[event.key] === undefined || event.ctrlKey || event.altKey || event.metaKey) return;
    event.preventDefault();
    this.grasp.take(event.key, event);
  }

  begin(event) {
    const key = KEYS[event.key];
    this.pace = (key ?? 0) * KEY_PER_S;
    // By a key it is picked up where the axis stands.
    this.value = key === undefined ? this.at(event) : this.stands;
    this.picked = false;
    if (key === undefined) this.surface.focus();
    flag(this.root, "held", true);
    this.turn(this.value);
  }

  /** The same rule as the daemon's: picked up by passing where the axis stands, or by being there. */
  turn(value) {
    const passed = (this.value - this.stands) * (value - this.stands) <= 0;
    this.picked ||= passed || Math.abs(value - this.stands) <= NEAR;
    this.value = value;
    this.tell(value);
    this.paint();
  }

  release() {
    this.grasp.release();
  }

  letGo() {
    [this.value, this.picked] = [null, false];
    flag(this.root, "held", false);
    this.tell(null);
    this.paint();
  }

  /** What the daemon says of the axis. */
  render({ position, surveyed = true }) {
    // Without a survey nobody knows where the ends of its travel are: nothing absolute drives it.
    show(this.root, surveyed);
    if (!surveyed) this.release();
    const known = Number.isFinite(position);
    if (known) this.stands = Math.min(1, Math.max(0, (position - this.low) / (this.high - this.low)));
    this.grasp.check();
    say(this.figure, known ? `${this.steady.text(position)} ${unit(this.axis.unit)}` : "?");
    put(this.surface, "aria-valuenow", known ? position.toFixed(3) : String(this.low));
    this.paint();
  }

  paint() {
    const { value, stands } = this;
    const waits = value !== null && !this.picked;
    flag(this.root, "picked", value !== null && this.picked);
    flag(this.root, "waits", waits);
    this.mark.style.left = `${100 * stands}%`;
    show(this.thumb, value !== null);
    show(this.gap, waits);
    if (value !== null) this.thumb.style.left = `${100 * value}%`;
    this.gap.style.left = `${100 * Math.min(value ?? 0, stands)}%`;
    this.gap.style.width = `${100 * Math.abs((value ?? 0) - stands)}%`;
    say(this.way, waits ? (value < stands ? "draw right → to pick it up" : "← draw left to pick it up") : value !== null ? "drives" : "");
  }
}

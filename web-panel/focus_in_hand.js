// What the focus of a rig in hand follows: another rig, or nothing. Its dial is an offset to that.

import { el, flag, say, show } from "./dom.js";
import { number } from "./words.js";

const STATES = {
  follows: "Focus follows",
  lags: "Focus lags behind",
  beyond: "Out of reach of the focus:",
  waits: "Focus waits, ask again:",
  lost: "Focus has lost, ask again:",
};

/** A status that was on its way as it was asked for does not know of it yet. */
const UNSEEN_MS = 500;

export class FocusInHand {
  constructor(rig, ask) {
    const options = (rig.focus?.on ?? []).map((name) => el("option", { value: name }, name));
    this.select = el("select", {}, el("option", { value: "" }, "nothing"), ...options);
    this.told = el("p", { class: "focus-told", role: "status" });
    this.root = el("div", { class: "hand-focus" }, el("label", { class: "hand-axis" }, "focus follows", this.select), this.told);
    show(this.root, Boolean(rig.focus));
    this.askedAt = -Infinity;
    this.select.addEventListener("change", () => {
      this.askedAt = performance.now();
      ask(this.select.value ? { on: this.select.value } : {});
    });
  }

  /** `focus` as the status has it; null where it follows nothing. */
  render(focus) {
    const known = [...this.select.options].some((option) => option.value === focus?.on);
    if (performance.now() - this.askedAt > UNSEEN_MS) this.select.value = known ? focus.on : "";
    say(this.told, focus ? `${STATES[focus.state] ?? focus.state} ${focus.on} · ${number(focus.distance, 2)} m` : "");
    flag(this.told, "abnormal", Boolean(focus) && focus.state !== "follows");
    show(this.told, Boolean(focus));
  }
}

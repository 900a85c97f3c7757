// A rig in this panel's hands: taken from its plate, driven by a pad of two axes or by dials, given back. What keeps it is said in words.

import { Dial } from "./dial.js";
import { el, enable, lines, put, say, show } from "./dom.js";
import { FocusInHand } from "./focus_in_hand.js";
import { Pad } from "./pad.js";
import { list, number, sentence } from "./words.js";

/** A status that was on its way as the rig was taken does not know of it yet. */
const UNSEEN_MS = 1000;

export class InHand {
  constructor(rig, model) {
    this.rig = rig;
    this.model = model;
    /** Whether this page took it; a page that was loaded anew takes it again. */
    this.mine = false;
    this.takenAt = -Infinity;
    this.seen = false;
    /** Asked for, and not answered yet. */
    this.asking = false;
    this.take = el("button", { type: "button", class: "hand-take" }, "Take in hand");
    this.back = el("button", { type: "button" }, "Give back");
    this.across = chooser("across", rig.axes, 0);
    this.up = chooser("up and down", rig.axes, 1);
    const knob = el("span", { class: "pad-knob", "aria-hidden": "true" });
    this.prompt = el("span", { class: "pad-prompt", "aria-hidden": "true" }, "press and draw");
    this.surface = el("div", { class: "pad", role: "group", "aria-label": `Pad of ${rig.name}: it drives while it is pressed` }, this.prompt, knob);
    this.dials = new Map(rig.axes.map((axis) => [axis.name, new Dial(axis, () => this.drives(), (value) => this.turn(axis.name, value))]));
    const dials = el("details", { class: "dials" }, el("summary", {}, "Dials"), ...[...this.dials.values()].map((dial) => dial.root));
    this.focus = new FocusInHand(rig, (on) => this.follow(on));
    this.keeps = el("ul", { class: "reasons", role: "status" });
    this.refused = el("ul", { class: "reasons", role: "status" });
    this.held = el("div", { class: "hand-held", hidden: true }, this.across.root, this.up.root, this.surface, this.focus.root, dials, this.keeps, this.back);
    this.root = el("div", { class: "hand" }, this.take, this.held, this.refused);
    this.pad = new Pad(this.surface, knob, () => this.drives(), (across, up) => this.drive(across, up));
    this.take.addEventListener("click", () => this.ask("hand"));
    this.back.addEventListener("click", () => this.ask("give_back"));
    for (const { select } of [this.across, this.up]) select.addEventListener("change", () => this.pad.release());
  }

  async ask(method) {
    this.release();
    this.asking = true;
    const answer = await this.model.ask(method, { rig: this.rig.name });
    this.asking = false;
    if (answer.accepted) {
      this.mine = method === "hand";
      this.takenAt = performance.now();
      this.seen = false;
    }
    lines(this.refused, answer.accepted ? [] : answer.reasons);
  }

  async follow(on) {
    const answer = await this.model.ask("focus", { rig: this.rig.name, ...on });
    lines(this.refused, answer.accepted ? [] : answer.reasons);
  }

  /** Whatever is under a finger is let go of. */
  release() {
    this.pad.release();
    for (const dial of this.dials.values()) dial.release();
  }

  /** Letting go is said whatever else holds. */
  turn(axis, value) {
    if (value === null) this.model.tell("let_go", { rig: this.rig.name, axis });
    else this.model.tell("dial", { rig: this.rig.name, axis, value });
  }

  drives() {
    return this.mine && this.model.may("operator");
  }

  /** Zero is said whatever else holds. */
  drive(across, up) {
    const said = [[this.across, across], [this.up, up]];
    for (const [{ select }, value] of said) {
      if (select.value) this.model.tell("stick", { rig: this.rig.name, axis: select.value, value });
    }
  }

  render(status) {
    const { hand } = status;
    const held = Boolean(hand) && !hand.let_go;
    this.seen ||= held;
    if (!held && (this.seen || performance.now() - this.takenAt > UNSEEN_MS)) this.mine = false;
    const operator = this.model.may("operator");
    show(this.take, operator && !this.mine);
    enable(this.take, !status.owner && !this.asking);
    show(this.held, this.mine);
    this.pad.check();
    for (const [axis, dial] of this.dials) dial.render(status.axes[axis] ?? {});
    if (!this.mine) return;
    put(this.surface, "data-armed", String(this.model.status.armed));
    say(this.prompt, this.model.status.armed ? "press and draw" : "not armed: nothing moves");
    lines(this.keeps, keeps(hand ?? {}));
    this.focus.render(hand?.focus ?? null);
  }
}

/** Names are said: nobody can see by a pad which axis it drives. */
function chooser(label, axes, chosen) {
  const options = axes.map((axis) => el("option", { value: axis.name }, axis.name));
  const select = el("select", {}, el("option", { value: "" }, "nothing"), ...options);
  select.value = axes[chosen]?.name ?? "";
  return { root: el("label", { class: "hand-axis" }, label, select), select };
}

function keeps({ near, interlock, way_out: wayOut, waits }) {
  const told = [];
  if (near) told.push(`In the way: ${list(near.bodies)}, ${number(near.distance, 2)} m apart.`);
  if (interlock) told.push(`Kept by the interlock “${interlock}”.`);
  if (wayOut) told.push(sentence(wayOut));
  if (waits?.length) told.push(`Let go first: ${list(waits)}.`);
  return told;
}

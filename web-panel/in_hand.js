// A rig in this panel's hands: taken from its plate, or taken over, driven by a pad of two axes or by dials, handed over, given
// back. What keeps it is said in words to everybody, and to who cannot take it why.

import { Dial } from "./dial.js";
import { el, enable, lines, put, say, show } from "./dom.js";
import { FocusInHand } from "./focus_in_hand.js";
import { HandOver } from "./hand_over.js";
import { keeps, whyNot } from "./hand_told.js";
import { Pad } from "./pad.js";

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
    this.why = el("p", { class: "hand-why", role: "status" });
    this.over = el("button", { type: "button", class: "hand-accept deliberate" }, "Take it over");
    this.handOver = new HandOver(model, (to) => this.offer(to));
    this.back = el("button", { type: "button", class: "hand-back" }, "Give back");
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
    this.held = el("div", { class: "hand-held", hidden: true }, this.across.root, this.up.root, this.surface, this.focus.root, dials, this.keeps, this.handOver.root, this.back);
    this.blocks = el("ul", { class: "reasons hand-blocks", role: "status" });
    this.root = el("div", { class: "hand" }, this.take, this.why, this.over, this.held, this.refused, this.blocks);
    this.pad = new Pad(this.surface, knob, () => this.drives(), (across, up) => this.drive(across, up));
    this.take.addEventListener("click", () => this.ask("hand"));
    this.over.addEventListener("click", () => this.ask("accept"));
    this.back.addEventListener("click", () => this.ask("give_back"));
    for (const { select } of [this.across, this.up]) select.addEventListener("change", () => this.pad.release());
  }

  async ask(method) {
    this.release();
    this.asking = true;
    const answer = await this.model.ask(method, { rig: this.rig.name });
    this.asking = false;
    if (answer.accepted) {
      this.mine = method !== "give_back";
      this.takenAt = performance.now();
      this.seen = false;
    }
    lines(this.refused, answer.accepted ? [] : answer.reasons);
  }

  async offer(to) {
    const answer = await this.model.ask("hand_over", { rig: this.rig.name, ...(to === null ? {} : { to }) });
    lines(this.refused, answer.accepted ? [] : answer.reasons);
    return answer.accepted;
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
    const hand = status.hand ?? null;
    this.settle(hand);
    this.renderWays(status);
    show(this.held, this.mine);
    this.pad.check();
    for (const [axis, dial] of this.dials) dial.render(status.axes[axis] ?? {});
    lines(this.blocks, hand && !this.mine ? keeps(hand, false) : []);
    this.handOver.render(this.mine ? hand : null);
    if (!this.mine) return;
    put(this.surface, "data-armed", String(this.model.status.armed));
    say(this.prompt, this.model.status.armed ? "press and draw" : "not armed: nothing moves");
    lines(this.keeps, keeps(hand ?? {}, true));
    this.focus.render(hand?.focus ?? null);
  }

  /** Whether this page still has it: given back, lost, or in another's hands by now it has not. */
  settle(hand) {
    const held = hand !== null && !hand.let_go && (this.model.client === null || this.model.isMe(hand.client));
    this.seen ||= held;
    if (!held && (this.seen || performance.now() - this.takenAt > UNSEEN_MS)) this.mine = false;
  }

  /** How an operator gets it, or why not. */
  renderWays(status) {
    const operator = this.model.may("operator");
    const offered = Boolean(status.hand?.offered) && this.model.isMe(status.hand.offered);
    show(this.over, operator && !this.mine && offered);
    enable(this.over, !this.asking);
    const why = whyNot(status, this.model);
    show(this.take, operator && !this.mine && !offered);
    enable(this.take, why === null && !this.asking);
    say(this.why, why);
    show(this.why, operator && !this.mine && !offered && why !== null);
  }
}

/** Names are said: nobody can see by a pad which axis it drives. */
function chooser(label, axes, chosen) {
  const options = axes.map((axis) => el("option", { value: axis.name }, axis.name));
  const select = el("select", {}, el("option", { value: "" }, "nothing"), ...options);
  select.value = axes[chosen]?.name ?? "";
  return { root: el("label", { class: "hand-axis" }, label, select), select };
}

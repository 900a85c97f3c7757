// Handing a rig over to another operator, by whoever has it in hand: it is offered, and stays in these hands until the other
// takes it over. What nobody takes over lapses.

import { el, enable, say, show } from "./dom.js";

export class HandOver {
  /** `ask(to)` offers the rig to that client, or to null, which takes the offer back; it promises whether it was accepted. */
  constructor(model, ask) {
    [this.model, this.ask] = [model, ask];
    /** To whom it was offered when that was last seen. */
    this.offered = null;
    /** Who did not take it over. */
    this.lapsed = null;
    /** Taken back here: that is no lapse. */
    this.takenBack = false;
    this.names = [];
    this.to = el("select");
    this.offer = el("button", { type: "button", class: "hand-offer" }, "Offer it");
    this.choice = el("div", { class: "hand-over" }, el("label", { class: "hand-axis" }, "Hand over to", this.to), this.offer);
    this.waits = el("p", { class: "hand-note" });
    this.back = el("button", { type: "button", class: "hand-offer-back" }, "Take the offer back");
    this.pending = el("div", { class: "hand-over" }, this.waits, this.back);
    this.note = el("p", { class: "hand-note", role: "status" });
    this.root = el("div", { class: "hand-over-all" }, this.choice, this.pending, this.note);
    this.offer.addEventListener("click", () => this.offerIt());
    this.back.addEventListener("click", () => this.takeBack());
  }

  async offerIt() {
    this.takenBack = false;
    await this.ask(this.to.value);
  }

  async takeBack() {
    this.takenBack = true;
    if (!(await this.ask(null))) this.takenBack = false;
  }

  /** `hand` is what the status says of the rig while this page has it in hand, else null. */
  render(hand) {
    const offered = hand?.offered ?? null;
    this.remember(hand === null, offered);
    const others = this.model.others();
    this.list(others);
    show(this.choice, offered === null && others.length > 0);
    show(this.pending, offered !== null);
    enable(this.offer, this.to.value !== "");
    if (offered !== null) say(this.waits, `Offered to ${offered}. Until it is taken over there, you have it.`);
    const note = offered !== null ? "" : this.lapsed !== null ? `${this.lapsed} has not taken it over: the offer has lapsed.` : others.length === 0 ? ALONE : "";
    say(this.note, note);
    show(this.note, note !== "");
  }

  remember(gone, offered) {
    const lapses = !gone && offered === null && this.offered !== null && !this.takenBack;
    if (gone || offered !== null) this.lapsed = null;
    else if (lapses) this.lapsed = this.offered;
    this.offered = offered;
  }

  /** Whoever was chosen stays chosen while they are here; who is alone need not be chosen. */
  list(others) {
    if (others.length === this.names.length && others.every((name, index) => name === this.names[index])) return;
    this.names = others;
    const chosen = this.to.value;
    this.to.replaceChildren(...(others.length > 1 ? [""] : []).concat(others).map((name) => el("option", { value: name }, name)));
    this.to.value = others.includes(chosen) ? chosen : this.to.options[0]?.value ?? "";
  }
}

const ALONE = "No other operator is here to hand it over to.";

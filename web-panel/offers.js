// What others offer to this panel, where nobody overlooks it, whichever sheet is open.

import { byId, el, enable, keyed, say, show } from "./dom.js";

export class Offers {
  constructor(model) {
    this.model = model;
    this.root = byId("offers");
    this.known = new Map();
  }

  render() {
    const { status } = this.model;
    const rigs = Object.entries(status?.rigs ?? {}).filter(([, { hand }]) => hand?.offered && this.model.isMe(hand.offered));
    keyed(this.root, rigs.map(([name]) => name), this.known, offerOf);
    show(this.root, rigs.length > 0);
    for (const [name, { hand }] of rigs) {
      const { text, button } = this.known.get(name);
      say(text, `${hand.client} offers ${name} to this panel.`);
      enable(button, this.model.may("operator"));
    }
  }
}

function offerOf(rig) {
  const text = el("p", {});
  const button = el("button", { type: "button", class: "deliberate" }, `Take ${rig} over`);
  button.addEventListener("click", () => document.dispatchEvent(new CustomEvent("accept", { detail: rig })));
  return { root: el("div", { class: "offer", "data-offer": rig }, text, button), text, button };
}

// Being let in: the token that came with the page's address, the field for one that is typed, and what this panel may do.
//
// A token comes behind the # of the address, which the browser keeps to itself. It is shown to the daemon once, which gives
// it back as a cookie that no script can read, and is taken out of the address, so that neither the history nor a
// neighbour's eye keeps it.

import { byId, enable, flag, lines, say, show } from "./dom.js";

const ENTER_MS = 5000;
const IN_ADDRESS = /^#token=([0-9a-fA-F]{64})$/;
/** What a role does not do, said where everybody looks for why a button is grey. */
const SAYS = {
  operator: "operator",
  caller: "caller · an operator arms, resets and sets the master",
  observer: "observer · watches, and may stop",
};

/** Shows the token of the address, if there is one; resolves when the daemon has answered, whatever it said. */
export async function enterByAddress() {
  const found = IN_ADDRESS.exec(location.hash);
  if (!found) return;
  history.replaceState(null, "", location.pathname + location.search);
  await enter(found[1]);
}

/** Resolves to the reasons why not; to none once let in. */
async function enter(token) {
  try {
    const headers = { authorization: `Bearer ${token}` };
    const answer = await fetch("/enter", { method: "POST", headers, signal: AbortSignal.timeout(ENTER_MS) });
    if (answer.ok) return [];
    return [(await answer.json()).error ?? "The daemon did not take it."];
  } catch {
    return ["The daemon was not reached. Is this tablet on the show's network?"];
  }
}

export class Entry {
  constructor(model) {
    this.model = model;
    this.page = byId("entry");
    this.form = byId("entry-form");
    this.token = byId("entry-token");
    this.button = byId("entry-enter");
    this.refused = byId("entry-reasons");
    this.chip = byId("role");
    this.waiting = false;
    this.form.addEventListener("submit", (event) => {
      event.preventDefault();
      this.enter();
    });
    this.token.addEventListener("input", () => this.render());
  }

  async enter() {
    const token = this.token.value.trim();
    if (this.waiting || token === "") return;
    if (!/^[0-9a-fA-F]{64}$/.test(token)) {
      lines(this.refused, [`A token has 64 characters, 0 to 9 and a to f; this has ${token.length}.`]);
      return;
    }
    this.waiting = true;
    this.render();
    const reasons = await enter(token);
    this.waiting = false;
    lines(this.refused, reasons);
    if (reasons.length === 0) {
      this.token.value = "";
      this.model.link.restart();
    }
    this.render();
  }

  render() {
    const { access } = this.model;
    const shut = this.model.shut();
    show(this.page, shut);
    flag(document.body, "shut", shut);
    enable(this.button, !this.waiting && this.token.value.trim() !== "");
    for (const role of Object.keys(SAYS)) flag(document.body, `is-${role}`, access?.role === role);
    show(this.chip, Boolean(access?.role));
    if (access?.role) say(this.chip, named(access.name ?? this.model.client) + SAYS[access.role]);
  }
}

function named(name) {
  return name ? `${name}: ` : "";
}

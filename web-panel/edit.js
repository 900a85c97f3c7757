// An edited show on offer: what it changes, and the press that brings it into force.

import { byId, enable, lines, say, show } from "./dom.js";

export class Edit {
  constructor(model) {
    this.model = model;
    this.banner = byId("edit");
    this.title = byId("edit-title");
    this.changes = byId("edit-changes");
    this.button = byId("edit-accept");
    this.refused = byId("edit-reasons");
    this.hash = null;
    this.button.addEventListener("click", () => this.accept());
  }

  async accept() {
    const answer = await this.model.ask("reload", { accept: this.hash });
    lines(this.refused, answer.accepted ? [] : answer.reasons.map((reason) => `Not taken in: ${reason}`));
  }

  render() {
    const edit = this.model.status?.edit ?? null;
    show(this.banner, edit !== null);
    if (!edit) return;
    // What is accepted is what was read here, even if the files change again meanwhile.
    if (this.hash !== edit.hash) lines(this.refused, []);
    this.hash = edit.hash;
    const count = edit.differences.length;
    say(this.title, count === 0 ? "Show files edited, nothing changed" : `Show files edited: ${count} ${count === 1 ? "change" : "changes"}`);
    lines(this.changes, [...edit.differences, ...consequences(edit)]);
    show(this.button, !edit.restart);
    enable(this.button, this.model.may("operator"));
  }
}

function consequences(edit) {
  if (edit.restart) return ["This needs a new start of the daemon."];
  return edit.disarms ? ["Taking it in disarms the show."] : [];
}

// What a survey makes of the rig's file: proposed, written, cleared; and what of the show no longer fits.

import { el, enable, lines, say, show } from "./dom.js";
import { unit } from "./words.js";

const MINUS = "−";

export class SurveyFile {
  constructor(model, rig) {
    this.model = model;
    this.rig = rig;
    this.busy = false;
    this.propose = this.button("Propose", () => this.ask("propose", {}));
    this.write = this.button("Write it", () => this.ask("write_survey", {}), "deliberate");
    this.forget = this.button("Forget what was set", () => this.ask("forget", {}));
    this.clear = this.button("Clear its survey …", () => this.question(true));
    this.ends = ["Provisional lower end", "upper end"].map((label) => el("input", { class: "field", type: "number", step: "any", inputmode: "decimal", "aria-label": label }));
    this.sure = this.button("Clear it", () => this.clears(), "deliberate");
    this.leave = this.button("Leave it", () => this.question(false));
    this.about = el("p", { class: "survey-about" });
    this.asked = el("div", { class: "survey-clear", hidden: true }, this.about, el("div", { class: "survey-pair" }, ...this.ends), el("div", { class: "survey-pair" }, this.leave, this.sure));
    this.head = el("p", { class: "survey-told", role: "status" });
    this.axes = el("ul", { class: "survey-lines" });
    this.title = el("h3", { hidden: true }, "What no longer fits");
    this.findings = el("ul", { class: "reasons" });
    this.unproved = el("p", { class: "survey-told" });
    this.root = el(
      "div",
      { class: "survey-file" },
      el("div", { class: "survey-pair" }, this.propose, this.write),
      el("div", { class: "survey-pair" }, this.forget, this.clear),
      this.asked,
      this.head,
      this.axes,
      this.title,
      this.findings,
      this.unproved,
    );
  }

  button(text, act, kind = "") {
    const button = el("button", { type: "button", class: kind }, text);
    button.addEventListener("click", act);
    return button;
  }

  choose(axis) {
    this.axis = axis;
    this.question(false);
  }

  question(open) {
    show(this.asked, open);
    if (!open) return;
    const travel = this.model.status.rigs[this.rig.name].axes[this.axis.name].travel;
    this.ends.forEach((input, index) => (input.value = String(travel[index])));
    say(this.about, `Until it is surveyed again nothing moves ${this.axis.name} but a slow jog, within this provisional travel (${unit(this.axis.unit)}). Wider than the room allows, only the machine’s own final limits stop it.`);
  }

  clears() {
    const travel = this.ends.map((input) => Number.parseFloat(input.value));
    const given = travel.every(Number.isFinite);
    this.question(false);
    this.ask("clear_survey", { axis: this.axis.name, ...(given ? { travel } : {}) });
  }

  async ask(method, params) {
    this.busy = true;
    say(this.head, method === "forget" ? "" : "The show is proved with it …");
    this.tell(null);
    const answer = await this.model.ask(method, { rig: this.rig.name, ...params });
    this.busy = false;
    if (!answer.accepted) {
      say(this.head, "");
      lines(this.findings, answer.reasons);
      return;
    }
    say(this.head, method === "forget" ? "" : next(answer.result));
    this.tell(answer.result);
  }

  tell(result) {
    const findings = result?.findings ?? [];
    lines(this.axes, (result?.axes ?? []).map(changed));
    show(this.title, findings.length > 0);
    lines(this.findings, findings.map(found));
    const cues = result?.unproved ?? [];
    say(this.unproved, cues.length > 0 ? `To be proved and rehearsed again: cue${cues.length > 1 ? "s" : ""} ${cues.join(", ")}.` : "");
  }

  render(status, drives) {
    const taught = Boolean(status.taught);
    const operator = this.model.may("operator") && !this.busy;
    enable(this.propose, operator && taught);
    enable(this.write, operator && taught && drives);
    enable(this.forget, operator && taught);
    enable(this.clear, operator);
  }
}

function changed({ axis, unit: name, was, travel, home, surveyed }) {
  const sign = unit(name);
  const figure = (value) => String(value).replace("-", MINUS);
  const span = (ends) => `${figure(ends[0])} to ${figure(ends[1])}`;
  const same = was[0] === travel[0] && was[1] === travel[1];
  const moved = same ? `travel stays ${span(was)} ${sign}` : `travel ${span(was)} becomes ${span(travel)} ${sign}`;
  return `${axis}: ${moved}, home ${figure(home)} ${sign}${surveyed ? "" : ", NOT surveyed"}`;
}

function found({ message, file, line }) {
  return file ? `${message} (${file}, line ${line})` : message;
}

function next({ written, edit, errors }) {
  if (!written) return "Nothing is written yet.";
  if (edit) return "Written. Give the rig back, then take the edit in at the top of the page.";
  if (errors?.length) return "Written, and the show does not read any more: the survey from before stays in force until what no longer fits is settled.";
  return "Written.";
}

// One axis in a survey: where it stands in its travel, the ends that were set, and the travel that would come of them.

import { el, flag, put, say, show } from "./dom.js";
import { decimalsFor, number, Steady, unit } from "./words.js";

export class SurveyAxis {
  constructor(axis, chosen) {
    this.axis = axis;
    this.name = axis.name;
    this.decimals = Math.max(2, decimalsFor(axis.tolerance));
    this.steady = new Steady(this.decimals);
    this.figure = el("span", { class: "survey-at" });
    this.needle = el("span", { class: "survey-needle" });
    this.now = el("span", { class: "survey-now" });
    this.would = el("span", { class: "survey-would", hidden: true });
    this.ends = ["low", "high"].map((end) => el("span", { class: "survey-end", "data-end": end, hidden: true }));
    this.unsurveyed = el("span", { class: "survey-none", hidden: true }, "NOT SURVEYED");
    this.note = el("span", { class: "survey-note" });
    this.root = el(
      "button",
      { type: "button", class: "survey-axis", role: "option", "data-survey-axis": axis.name },
      el("span", { class: "survey-name" }, axis.name),
      this.figure,
      el("span", { class: "survey-scale", "aria-hidden": "true" }, this.now, this.would, ...this.ends, this.needle),
      this.unsurveyed,
      this.note,
    );
    this.root.addEventListener("click", chosen);
  }

  choose(is) {
    flag(this.root, "chosen", is);
    put(this.root, "aria-selected", String(is));
  }

  /** A position with its unit. */
  text(value) {
    return Number.isFinite(value) ? `${number(value, this.decimals)} ${unit(this.axis.unit)}` : "?";
  }

  paint(status, taught) {
    const [low, high] = status.travel;
    const known = [low, high, status.position, taught?.low, taught?.high].filter(Number.isFinite);
    const [least, most] = [Math.min(...known), Math.max(...known)];
    const at = (value) => `${((100 * (value - least)) / (most - least || 1)).toFixed(2)}%`;
    const span = (node, [from, to]) => {
      node.style.left = at(from);
      node.style.right = `${100 - Number.parseFloat(at(to))}%`;
    };
    say(this.figure, Number.isFinite(status.position) ? `${this.steady.text(status.position)} ${unit(this.axis.unit)}` : "?");
    span(this.now, [low, high]);
    show(this.needle, Number.isFinite(status.position));
    this.needle.style.left = at(status.position);
    show(this.would, Boolean(taught?.travel));
    if (taught?.travel) span(this.would, taught.travel);
    for (const end of this.ends) {
      const value = taught?.[end.dataset.end];
      show(end, Number.isFinite(value));
      if (Number.isFinite(value)) end.style.left = at(value);
    }
    show(this.unsurveyed, status.surveyed === false);
    say(this.note, this.told([low, high], taught));
  }

  told([low, high], taught) {
    const from = (ends) => `${this.text(ends[0])} to ${this.text(ends[1])}`;
    if (!taught) return `travel ${from([low, high])}`;
    const set = [["lower end", taught.low], ["upper end", taught.high], ["home", taught.home]];
    const said = set.filter(([, value]) => Number.isFinite(value)).map(([what, value]) => `${what} ${this.text(value)}`);
    const comes = taught.travel ? `travel would be ${from(taught.travel)}` : taught.why ?? `travel ${from([low, high])}`;
    return `set: ${said.join(", ")}; ${comes}`;
  }
}

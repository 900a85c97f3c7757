// One plate a rig: name, kind, whether it is simulated, state, owner, the age of its newest report, and each axis in
// its travel.

import { byId, el, flag, put, say, show } from "./dom.js";
import { setGlyph } from "./glyph.js";
import { handText, ownerText } from "./hand_told.js";
import { InHand } from "./in_hand.js";
import { decimalsFor, list, number, Steady, unit } from "./words.js";

/** A report older than this is worth a word; rigs report many times a second. */
const OLD_S = 0.2;

export class Rigs {
  constructor(model) {
    this.model = model;
    this.root = byId("rigs");
    this.plates = new Map();
    this.hash = null;
    document.addEventListener("accept", (event) => this.accept(event.detail));
  }

  /** Takes over a rig that is offered to this panel, and shows its plate. */
  async accept(rig) {
    byId("tab-rigs").click();
    const plate = this.plates.get(rig);
    await plate?.hand.ask("accept");
    // Once its pad is there.
    requestAnimationFrame(() => plate?.root.scrollIntoView({ block: "start" }));
  }

  render() {
    const { show: script, status } = this.model;
    if (!script || !status) return;
    if (this.hash !== script.hash) this.rebuild(script);
    for (const [name, plate] of this.plates) {
      if (!status.rigs[name]) continue;
      paint(plate, status.rigs[name], this.model);
      plate.hand.render(status.rigs[name]);
      show(plate.survey, this.model.may("operator"));
    }
  }

  rebuild(script) {
    this.hash = script.hash;
    for (const plate of this.plates.values()) plate.hand.release();
    this.plates = new Map(script.rigs.map((rig) => [rig.name, plateOf(rig, this.model)]));
    this.root.replaceChildren(...[...this.plates.values()].map((plate) => plate.root));
  }
}

function plateOf(rig, model) {
  const hand = new InHand(rig, model);
  const survey = el("button", { type: "button", class: "survey-open" }, "Survey");
  survey.addEventListener("click", () => document.dispatchEvent(new CustomEvent("survey", { detail: rig.name })));
  const glyph = el("span", { class: "rig-glyph" });
  const state = el("span", { class: "rig-state" });
  const simulated = el("span", { class: "overprint small" }, rig.absent ? "SIMULATED · ABSENT" : "SIMULATED");
  const owner = el("span", { class: "rig-owner" });
  const age = el("span", { class: "rig-age" });
  const told = el("p", { class: "rig-hand", role: "status", hidden: true });
  const open = rig.axes.filter((axis) => axis.surveyed === false).map((axis) => axis.name);
  const what = open.length > 1 ? "them" : "it";
  const unsurveyed = el("p", { class: "rig-unsurveyed" }, el("strong", {}, `NOT SURVEYED: ${list(open)}.`), ` Nothing moves ${what} but a slow jog in a survey.`);
  show(unsurveyed, open.length > 0);
  const injected = el("p", { class: "rig-injected", hidden: true });
  const axes = new Map(rig.axes.map((axis) => [axis.name, axisOf(axis)]));
  const root = el(
    "article",
    { class: "plate", "data-rig-plate": rig.name },
    el("h3", {}, rig.name, el("span", { class: "rig-kind" }, rig.kind), simulated),
    el("p", { class: "rig-line" }, glyph, state, owner, age),
    told,
    unsurveyed,
    injected,
    ...[...axes.values()].map((axis) => axis.root),
    hand.root,
    survey,
  );
  return { root, survey, glyph, state, simulated, owner, told, age, injected, axes, hand };
}

function axisOf(axis) {
  const [low, high] = axis.travel;
  const decimals = decimalsFor(axis.tolerance);
  const figure = el("span", { class: "axis-figure" });
  const glyph = el("span", { class: "axis-glyph" });
  const needle = el("span", { class: "axis-needle" });
  const wanted = el("span", { class: "axis-wanted" });
  const root = el(
    "div",
    { class: "axis", "data-axis": axis.name, "data-surveyed": String(axis.surveyed !== false) },
    el("span", { class: "axis-name" }, axis.name, axis.gravity ? el("span", { class: "axis-gravity", title: "gravity axis" }, " ⤓") : ""),
    el(
      "span",
      { class: "axis-travel", "aria-hidden": "true" },
      el("span", { class: "axis-end" }, endText(low)),
      el("span", { class: "axis-track" }, wanted, needle),
      el("span", { class: "axis-end" }, endText(high)),
    ),
    figure,
    el("span", { class: "axis-unit" }, unit(axis.unit)),
    glyph,
  );
  return { root, figure, glyph, needle, wanted, low, high, steady: new Steady(decimals) };
}

function paint(plate, rig, model) {
  put(plate.root, "data-state", rig.state);
  setGlyph(plate.glyph, rig.state);
  say(plate.state, rig.state);
  show(plate.simulated, rig.simulated);
  say(plate.owner, ownerText(rig, model));
  const told = handText(rig, model);
  show(plate.told, told !== "");
  say(plate.told, told);
  const injected = rig.injected ?? [];
  show(plate.injected, injected.length > 0);
  if (injected.length > 0) say(plate.injected, `made to fail: ${list(injected)}`);
  const heard = Number.isFinite(rig.age);
  const old = !heard || rig.age > OLD_S;
  flag(plate.age, "abnormal", old);
  say(plate.age, heard ? `age ${number(rig.age, old ? 1 : 2)} s` : "no report yet");
  for (const [name, axis] of plate.axes) {
    if (rig.axes[name]) paintAxis(axis, rig.axes[name]);
  }
}

function paintAxis(axis, status) {
  const measured = Number.isFinite(status.position);
  say(axis.figure, measured ? axis.steady.text(status.position) : "?");
  put(axis.root, "data-state", status.state ?? "");
  setGlyph(axis.glyph, status.state ?? "unknown");
  axis.glyph.title = status.state ?? "";
  show(axis.needle, measured);
  axis.needle.style.left = `${share(axis, status.position)}%`;
  axis.wanted.style.left = `${share(axis, status.setpoint)}%`;
}

function endText(position) {
  return number(position, Number.isInteger(position) ? 0 : 1);
}

/** Where in its travel, per cent; an axis beyond its travel is shown at the end. */
function share(axis, position) {
  const part = (position - axis.low) / (axis.high - axis.low);
  return (100 * Math.min(1, Math.max(0, part || 0))).toFixed(1);
}

// A survey: a rig taken in hand to be jogged slowly to its ends, tried, and written into its file. It lies over the stage and the
// running order, and leaves the stop, the hold and what is on standby where they are.

import { byId, el, enable, flag, lines, put, say, show } from "./dom.js";
import { keeps } from "./hand_told.js";
import { HoldButton } from "./hold_button.js";
import { SurveyAxis } from "./survey_axis.js";
import { SurveyFile } from "./survey_file.js";

/** A status that was on its way as the rig was taken does not know of it yet. */
const UNSEEN_MS = 1000;
const TRIALS = { sign: "Check direction", repeat: "Repeat from both sides", home: "Go home" };

export class Survey {
  constructor(model) {
    this.model = model;
    this.root = byId("survey");
    this.rig = null;
    this.axis = null;
    /** Whether this page took it. */
    this.mine = false;
    this.takenAt = -Infinity;
    this.seen = false;
    /** The trial that a pressed button waits for: asked for, and not taken yet. */
    this.asking = null;
    this.buttons = [];
    document.addEventListener("survey", (event) => this.open(event.detail));
  }

  /** Builds the sheet of a rig, and takes it in hand. */
  open(name) {
    const rig = this.model.show?.rigs.find((rig) => rig.name === name);
    if (!rig) return;
    this.rig = rig;
    this.build(rig);
    show(this.root, true);
    // On a phone the page below it may be scrolled.
    byId("main").scrollTop = 0;
    this.take();
  }

  build(rig) {
    this.state = el("p", { class: "survey-state", role: "status" });
    this.leave = el("button", { type: "button" }, "Give back, close");
    this.again = el("button", { type: "button", class: "deliberate", hidden: true }, "Take it in hand");
    this.refused = el("ul", { class: "reasons", role: "status" });
    this.keeps = el("ul", { class: "reasons", role: "status" });
    this.axes = rig.axes.map((axis) => new SurveyAxis(axis, () => this.choose(axis.name)));
    this.less = this.jogger("−", -1);
    this.more = this.jogger("+", 1);
    this.points = ["low", "home", "high"].map((point) => this.pointButton(point));
    this.trials = Object.entries(TRIALS).map(([trial, text]) => this.trialButton(trial, text));
    this.tried = el("p", { class: "survey-tried", role: "status" });
    this.file = new SurveyFile(this.model, rig);
    this.buttons = [this.less, this.more, ...this.trials];
    this.figure = el("p", { class: "survey-figure" });
    this.root.replaceChildren(
      el("header", { class: "survey-head" }, el("h2", { id: "survey-title" }, `Survey of ${rig.name}`), this.state, this.again, this.leave),
      this.refused,
      el("div", { class: "survey-axes", role: "listbox", "aria-label": "Axes" }, ...this.axes.map((axis) => axis.root)),
      el(
        "div",
        { class: "survey-jog" },
        this.figure,
        el("div", { class: "survey-pair" }, this.less.button, this.more.button),
        el("div", { class: "survey-points" }, ...this.points),
        el("div", { class: "survey-trials" }, ...this.trials.map((trial) => trial.button)),
        this.tried,
        this.keeps,
      ),
      this.file.root,
    );
    this.leave.addEventListener("click", () => this.close());
    this.again.addEventListener("click", () => this.take());
    this.choose(rig.axes[0].name);
  }

  async take() {
    const answer = await this.model.ask("survey", { rig: this.rig.name });
    if (answer.accepted) {
      this.takenAt = performance.now();
      this.seen = false;
      this.mine = true;
    }
    lines(this.refused, answer.accepted ? [] : answer.reasons);
  }

  async close() {
    this.release();
    if (this.mine) await this.model.ask("give_back", { rig: this.rig.name });
    this.mine = false;
    this.rig = null;
    show(this.root, false);
  }

  release() {
    for (const held of this.buttons) held.release();
  }

  choose(name) {
    this.release();
    this.axis = this.rig.axes.find((axis) => axis.name === name);
    for (const axis of this.axes) axis.choose(axis.name === name);
    this.file.choose(this.axis);
    this.model.onChange();
  }

  drives() {
    return this.mine && this.model.may("operator");
  }

  jogger(sign, value) {
    const button = el("button", { type: "button", class: "survey-hold", "data-jog": sign }, sign);
    const tell = (on) => this.model.tell("stick", { rig: this.rig.name, axis: this.axis.name, value: on ? value : 0 });
    return new HoldButton(button, () => this.drives(), tell);
  }

  pointButton(point) {
    const text = { low: "Lower end is here", home: "Home is here", high: "Upper end is here" }[point];
    const button = el("button", { type: "button", "data-point": point }, text);
    button.addEventListener("click", async () => {
      const answer = await this.model.ask("teach", { rig: this.rig.name, axis: this.axis.name, point });
      const note = answer.result?.note;
      lines(this.refused, answer.accepted ? (note ? [note] : []) : answer.reasons);
    });
    return button;
  }

  trialButton(trial, text) {
    const button = el("button", { type: "button", class: "survey-hold", "data-trial": trial }, text);
    const tell = (on) => {
      // Not before it was taken on: the button of what was tried before must move nothing.
      if (on && (this.asking !== null || this.isOver())) return;
      this.model.tell("run", { rig: this.rig.name, axis: this.axis.name, on });
    };
    return new HoldButton(button, () => this.drives(), tell, () => this.begin(trial));
  }

  trial() {
    return this.model.status?.rigs[this.rig.name]?.hand?.trial ?? null;
  }

  isOver() {
    const trial = this.trial();
    return trial === null || trial.done === trial.of;
  }

  /** Goes on with what is half done of this axis, or has it tried anew. */
  async begin(trial) {
    const now = this.trial();
    if (now && now.axis === this.axis.name && now.trial === trial && now.done < now.of) return;
    this.asking = trial;
    const answer = await this.model.ask("trial", { rig: this.rig.name, axis: this.axis.name, trial });
    lines(this.refused, answer.accepted ? [] : answer.reasons);
    if (!answer.accepted) return this.release();
    // Until the status tells of it.
    setTimeout(() => (this.asking = null), 150);
  }

  render() {
    if (this.rig === null || !this.model.status) return;
    const status = this.model.status.rigs[this.rig.name];
    if (!status) return this.close();
    const { hand } = status;
    const held = Boolean(hand?.survey) && !hand.let_go && (this.model.client === null || this.model.isMe(hand.client));
    this.seen ||= held && this.mine;
    if (!held && (this.seen || performance.now() - this.takenAt > UNSEEN_MS)) this.mine = false;
    for (const button of this.buttons) button.check();
    this.paintState();
    for (const axis of this.axes) axis.paint(status.axes[axis.name], status.taught?.[axis.name] ?? null);
    this.paintFigure(status);
    const drives = this.drives();
    for (const { button } of this.buttons) enable(button, drives);
    for (const button of this.points) enable(button, drives && status.axes[this.axis.name].state !== "moving");
    say(this.tried, tried(hand?.trial ?? null));
    flag(this.tried, "abnormal", isBad(hand?.trial?.found));
    lines(this.keeps, keeps({ ...hand, waits: [] }, true));
    this.file.render(status, drives);
  }

  paintState() {
    const { armed, stopped } = this.model.status;
    const text = stopped ? "STOPPED" : armed ? "armed: it moves while you hold" : "not armed: nothing moves";
    say(this.state, this.mine ? text : "not in your hands");
    put(this.state, "data-quiet", String(Boolean(this.mine && armed && !stopped)));
    show(this.again, !this.mine);
    say(this.leave, this.mine ? "Give back, close" : "Close");
  }

  paintFigure(status) {
    const chosen = this.axes.find((axis) => axis.name === this.axis.name);
    say(this.figure, `${this.axis.name} ${chosen.text(status.axes[this.axis.name].position)}`);
  }
}

function tried(trial) {
  if (!trial) return "";
  if (trial.found) return trial.found.text;
  const what = `${TRIALS[trial.trial]}: ${trial.axis}, ${trial.done} of ${trial.of} done`;
  return trial.runs ? what : `${what}. Hold the button to go on.`;
}

function isBad(found) {
  return Boolean(found) && ((found.sign !== undefined && found.sign !== "agrees") || found.within === false);
}

// Arm and disarm, in two deliberate presses in two places; nothing ever lies over the stop. And the master, which is
// chosen first and set by a press of its own.

import { byId, enable, flag, lines, put, say, show } from "./dom.js";
import { list, number, percent } from "./words.js";

/** A question left open is taken back, so that a stray touch much later answers nothing. */
const FORGET_MS = 10000;

class Strip {
  constructor(opener, strip, leave) {
    this.opener = byId(opener);
    this.strip = byId(strip);
    this.timer = null;
    this.opener.addEventListener("click", () => (this.strip.hidden ? this.open() : this.close()));
    byId(leave).addEventListener("click", () => this.close());
  }

  open() {
    show(this.strip, true);
    put(this.opener, "aria-expanded", "true");
    this.keep();
  }

  keep() {
    clearTimeout(this.timer);
    this.timer = setTimeout(() => this.close(), FORGET_MS);
  }

  close() {
    clearTimeout(this.timer);
    show(this.strip, false);
    put(this.opener, "aria-expanded", "false");
  }
}

export class Arming {
  constructor(model) {
    this.model = model;
    this.strip = new Strip("arm-open", "arm-strip", "arm-leave");
    this.question = byId("arm-question");
    this.button = byId("arm-do");
    this.refused = byId("arm-reasons");
    this.asks = null;
    this.strip.opener.addEventListener("click", () => {
      // The question stands as it was read, even if the show is armed from elsewhere meanwhile.
      this.asks = this.model.status?.armed ? "disarm" : "arm";
      lines(this.refused, []);
      this.render();
    });
    this.button.addEventListener("click", () => this.answer());
  }

  async answer() {
    const answer = await this.model.ask(this.asks, {});
    lines(this.refused, answer.accepted ? [] : answer.reasons);
    if (answer.accepted) this.strip.close();
    else this.strip.keep();
  }

  render() {
    const { status, show: script } = this.model;
    const may = this.model.may("operator");
    enable(this.strip.opener, may);
    enable(this.button, may);
    if (!may) this.strip.close();
    if (!status || !script) return;
    say(this.strip.opener, status.armed ? "Armed" : "Disarmed");
    flag(this.strip.opener, "armed", status.armed);
    if (this.asks === "disarm") {
      say(this.question, "Disarm the show? Every axis comes to rest, and nothing moves until it is armed again.");
      say(this.button, "Disarm now");
    } else {
      say(this.question, `Arm the show? From then on GO moves ${movesWhat(script)}`);
      say(this.button, "Arm now");
    }
  }
}

function movesWhat(script) {
  const real = script.rigs.filter((rig) => !rig.simulated).map((rig) => rig.name);
  return real.length ? `${list(real)}, for real.` : "simulated rigs only.";
}

export class Master {
  constructor(model) {
    this.model = model;
    this.strip = new Strip("master-open", "master-strip", "master-leave");
    this.slide = byId("master-slide");
    this.button = byId("master-set");
    this.now = byId("master-now");
    this.refused = byId("master-reasons");
    this.strip.opener.addEventListener("click", () => {
      lines(this.refused, []);
      this.slide.value = String(Math.round((this.model.status?.master ?? 1) * 20) * 5);
      this.render();
    });
    this.slide.addEventListener("input", () => this.changed());
    byId("master-less").addEventListener("click", () => this.step(-5));
    byId("master-more").addEventListener("click", () => this.step(5));
    this.button.addEventListener("click", () => this.set());
  }

  step(by) {
    this.slide.value = String(Number(this.slide.value) + by);
    this.changed();
  }

  changed() {
    this.strip.keep();
    this.render();
  }

  async set() {
    const answer = await this.model.ask("master", { value: Number(this.slide.value) / 100 });
    lines(this.refused, answer.accepted ? [] : answer.reasons);
    if (answer.accepted) this.strip.close();
  }

  render() {
    const { status } = this.model;
    const may = this.model.may("operator");
    enable(this.strip.opener, may);
    enable(this.button, may);
    if (!may) this.strip.close();
    if (!status) return;
    say(this.strip.opener, `Master ${percent(status.master)}`);
    flag(this.strip.opener, "abnormal", status.master < 1);
    const note = status.master < 1 ? " Dynamic limits not proved." : "";
    const moves = status.running.some((entry) => entry.rate !== 0);
    const now = moves ? `; what runs fastest is at × ${number(status.rate, 2)} now` : "";
    say(this.now, `Master asked ${percent(status.master)}${now}.${note}`);
    say(this.button, `Set ${this.slide.value} %`);
  }
}

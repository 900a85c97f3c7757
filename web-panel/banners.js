// What must not be overlooked: that rigs are simulated, that the stop is latched, and that the link is lost.

import { byId, enable, flag, lines, say, show } from "./dom.js";
import { STALE_MS } from "./model.js";
import { list, sentence } from "./words.js";

export class Banners {
  constructor(model) {
    this.model = model;
    this.simulated = byId("simulated");
    this.showName = byId("show-name");
    this.cautions = byId("cautions-list");
    this.hash = null;
  }

  render() {
    const { show: script, status } = this.model;
    if (script && this.hash !== script.hash) {
      this.hash = script.hash;
      say(this.showName, script.show);
      document.title = `${script.show} — bellwire`;
      if (script.cautions?.length) lines(this.cautions, script.cautions);
    }
    if (!status) return;
    show(this.simulated, status.simulated);
    if (status.simulated) say(this.simulated, simulatedText(status));
  }
}

function simulatedText(status) {
  const names = Object.keys(status.rigs);
  const simulated = names.filter((name) => status.rigs[name].simulated);
  if (simulated.length === names.length) return "SIMULATED · no machine moves";
  return `PART SIMULATED · ${list(simulated)} ${simulated.length === 1 ? "is" : "are"} not real`;
}

export class Stopped {
  constructor(model) {
    this.model = model;
    this.banner = byId("stopped");
    this.title = byId("stopped-title");
    this.by = byId("stopped-by");
    this.causes = byId("stopped-causes");
    this.button = byId("reset");
    this.refused = byId("reset-reasons");
    this.button.addEventListener("click", () => this.reset());
  }

  async reset() {
    const answer = await this.model.ask("reset", {});
    lines(this.refused, answer.accepted ? [] : answer.reasons.map((reason) => `Reset refused: ${reason}`));
  }

  render() {
    const stopped = this.model.status?.stopped ?? null;
    if (stopped === null && !this.banner.hidden) lines(this.refused, []);
    show(this.banner, stopped !== null);
    enable(this.button, this.model.may("operator"));
    const role = this.model.access?.role ?? null;
    if (role !== null && role !== "operator") lines(this.refused, ["An operator resets; this panel may not."]);
    if (stopped === null) return;
    const rest = stopped.standstill ? "standing still" : "coming to rest …";
    say(this.title, this.model.live() ? `STOPPED · ${rest}` : `Last seen STOPPED · ${rest}`);
    say(this.by, `First cause: ${stopped.by}.`);
    const stands = new Set(stopped.remaining ?? []);
    const causes = stopped.causes.map((cause) => (stands.has(cause) ? `${cause} — still so` : `${cause} — past`));
    lines(this.causes, [...causes, ...(stopped.ways_out ?? []).map(sentence)]);
    show(this.causes, stopped.causes.length > 0);
    flag(this.banner, "coming-to-rest", !stopped.standstill && this.model.live());
  }
}

export class Lost {
  constructor(model) {
    this.model = model;
    this.banner = byId("lost");
    this.title = byId("lost-title");
    this.text = byId("lost-text");
    this.chip = byId("link");
  }

  render() {
    const { model } = this;
    const live = model.live();
    const never = model.status === null || model.show === null;
    flag(document.body, "never", never);
    flag(document.body, "stale", !live && !never);
    show(this.banner, !live);
    say(this.chip, live ? "live" : model.shut() ? "not let in" : "link lost");
    flag(this.chip, "normal", live);
    if (live) return;
    const age = Math.floor(Math.max(model.age(), STALE_MS) / 1000);
    say(this.title, never ? "NO LINK YET" : `LINK LOST ${age} s — picture is old`);
    say(this.text, this.explain(never));
  }

  explain(never) {
    if (this.model.link.state === "asleep") return "This panel was hidden and has let its lease go. It comes back when it is seen.";
    const stop = "STOP still calls. Trust your eyes and the emergency stop.";
    return never ? `Calling the daemon. ${stop}` : `Everything but STOP is closed. Calling the daemon again. ${stop}`;
  }
}

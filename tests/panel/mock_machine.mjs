// Just enough of a daemon's behaviour to draw a panel against: standby, GO, follows, hold, resume, return, the
// latched stop, reset and refusals in words. It is no proof of anything; the end-to-end test also runs on the real one.

import { bodies, CUES, look, RIGS, showJson } from "./mock_show.mjs";

const STOP_S = 1.2;
const RATE_PER_S = 1.5;
const HELD_S = 0.6;

export class Refused extends Error {
  constructor(...reasons) {
    super(reasons.join(" "));
    this.reasons = reasons;
  }
}

export class Machine {
  constructor({ simulated = RIGS.map((rig) => rig.name), hash = "9f2c51d07ab4e6", inputs = {} } = {}) {
    this.simulated = new Set(simulated);
    this.hash = hash;
    this.time = 0;
    this.seq = 0;
    this.eventSeq = 0;
    this.armed = false;
    this.master = 1;
    this.rate = 0;
    this.held = false;
    this.stopped = null;
    this.standby = [];
    this.running = new Map();
    this.waiting = new Map();
    this.cues = Object.fromEntries(CUES.map((cue) => [cue.number, "idle"]));
    this.pose = Object.fromEntries(RIGS.map((rig) => [rig.name, Object.fromEntries(rig.axes.map((axis) => [axis.name, axis.start]))]));
    this.moving = new Set();
    this.inputs = { "cellar gate closed": true, "deck clear": null, "emergency-stop chain healthy": true, ...inputs };
    this.lastGo = -Infinity;
    this.heldBack = null;
    this.faults = {};
    this.onEvent = () => {};
  }

  event(kind, text, more = {}) {
    this.eventSeq += 1;
    this.onEvent({ seq: this.eventSeq, time: this.time, kind, text, ...more });
  }

  cue(number) {
    const cue = CUES.find((candidate) => candidate.number === number);
    if (!cue) throw new Refused(`There is no cue ${number} in this show.`);
    return cue;
  }

  reasons(entry) {
    const cue = this.cue(entry.cue);
    const reasons = [];
    if (!this.armed) reasons.push("The show is not armed.");
    if (this.stopped) reasons.push("The stop is latched; reset comes first.");
    if (cue.needs === "cue 8 done" && this.cues["8"] !== "done") reasons.push("Cue 9 needs cue 8 done; it is " + this.cues["8"] + ".");
    if (cue.needs === "cellar gate closed" && this.inputs["cellar gate closed"] !== true) reasons.push("Cue 5 needs the input “cellar gate closed” true; it is unknown.");
    const over = CUES.slice(0, CUES.indexOf(cue)).filter((before) => this.cues[before.number] === "idle" && !before.after);
    if (over.length && !entry.skip) reasons.push(over.length === 1 ? `cue ${over[0].number} would be passed over` : `${over.length} cues would be passed over, from cue ${over[0].number} on`);
    for (const rig of cue.rigs) if (this.ownerOf(rig)) reasons.push(`The rig ${rig} is owned by ${this.ownerOf(rig)}.`);
    return reasons;
  }

  ownerOf(rig) {
    for (const number of this.running.keys()) if (this.cue(number).rigs.includes(rig)) return `cue ${number}`;
    return null;
  }

  take(method, params) {
    const verbs = {
      arm: () => this.arm(true),
      disarm: () => this.arm(false),
      standby: () => this.stand(params),
      go: () => this.go(params),
      hold: () => this.hold(),
      resume: () => this.resume(),
      return: () => this.back(params),
      stop: () => this.stop("WebSocket"),
      reset: () => this.reset(),
      master: () => this.setMaster(params.value),
    };
    return verbs[method]();
  }

  arm(armed) {
    if (this.stopped && armed) throw new Refused("The stop is latched; reset comes first.");
    if (!armed && this.running.size) throw new Refused("Cues are running: hold or stop them first.");
    this.armed = armed;
    this.event("armed", armed ? "The show is armed." : "The show is disarmed.");
    return { accepted: true };
  }

  setMaster(value) {
    if (!(value >= 0 && value <= 1)) throw new Refused("The master lies between 0 and 1.");
    this.master = value;
    this.event("master", `The master is ${Math.round(value * 100)} %.`);
    return { accepted: true };
  }

  stand({ cues, skip }) {
    for (const number of cues) if (this.running.has(number)) throw new Refused(`Cue ${number} is running.`);
    const before = CUES.indexOf(this.cue(cues[0]));
    CUES.forEach((cue, index) => {
      if (index >= before && !this.running.has(cue.number)) this.cues[cue.number] = "idle";
    });
    this.standby = cues.map((number) => ({ cue: number, skip: Boolean(skip), returning: false, from: 0 }));
    for (const number of cues) this.cues[number] = "standby";
    const reasons = this.reasons(this.standby[0]);
    this.event("standby", `Cue ${cues[0]} is on standby, ${reasons.length ? "not ready" : "ready"}.`);
    return { accepted: true, ready: reasons.length === 0, reasons };
  }

  go({ cue }) {
    const first = this.standby[0];
    if (!first) throw new Refused("Nothing is on standby.");
    if (cue !== undefined && cue !== first.cue) throw new Refused(`Cue ${cue} is not on standby; cue ${first.cue} is.`);
    if (this.time - this.lastGo < 0.5) throw new Refused("A second GO within the guard time of 0.5 s.");
    const reasons = this.reasons(first);
    if (reasons.length) throw new Refused(...reasons);
    this.lastGo = this.time;
    this.standby.shift();
    this.event("go", `GO ${first.cue}.`);
    this.start(first.cue);
    return { accepted: true };
  }

  start(number) {
    const cue = this.cue(number);
    const from = Object.fromEntries(cue.rigs.map((rig) => [rig, { ...this.pose[rig] }]));
    this.running.set(number, { time: 0, from, state: "running" });
    this.cues[number] = "running";
    this.event("cue", `Cue ${number} runs.`);
    for (const next of CUES) if (next.after?.cue === number) this.waiting.set(next.number, { left: next.after.from === "start" ? next.after.wait : null });
    for (const next of this.waiting.keys()) this.cues[next] = "waiting";
  }

  hold() {
    if (this.running.size === 0) throw new Refused("Nothing is running.");
    this.held = true;
    this.event("held", "All running cues are held by the panel.");
    return { accepted: true };
  }

  resume() {
    if (!this.held) throw new Refused("Nothing is held.");
    this.held = false;
    this.event("resumed", "Resumed.");
    return { accepted: true };
  }

  back({ cue, held }) {
    if (!this.running.has(cue)) throw new Refused(`Cue ${cue} is not at rest on its path.`);
    if (!held) throw new Refused("The mock returns only while held.");
    this.heldBack = { cue, until: this.time + HELD_S };
    return { accepted: true };
  }

  stop(by) {
    if (!this.stopped) {
      this.stopped = { by, causes: [`asked for over ${by}`], at: this.time, standstill: false };
      for (const number of [...this.running.keys(), ...this.waiting.keys()]) this.cues[number] = "stopped";
      this.waiting.clear();
      this.standby = [];
      for (const [number, state] of Object.entries(this.cues)) if (state === "standby") this.cues[number] = "idle";
      this.event("stop", `STOP: asked for over ${by}`);
    }
    return { taken: true };
  }

  reset() {
    if (!this.stopped) throw new Refused("The stop is not latched.");
    if (!this.stopped.standstill) throw new Refused("heron.swing is not standing still.");
    const faults = Object.values(this.faults);
    if (faults.length) throw new Refused(...faults);
    this.stopped = null;
    this.event("reset", "The stop is reset.");
    return { accepted: true };
  }

  step(dt) {
    this.time += dt;
    const back = this.heldBack && this.time < this.heldBack.until;
    if (this.heldBack && !back) this.heldBack = null;
    const goal = this.stopped || this.running.size === 0 ? 0 : back ? -0.5 : this.held ? 0 : this.master;
    const change = Math.max(-RATE_PER_S * dt, Math.min(RATE_PER_S * dt, goal - this.rate));
    this.rate += change;
    this.moving.clear();
    for (const [number, run] of [...this.running]) this.advance(number, run, this.rate * dt);
    for (const [number, wait] of [...this.waiting]) this.wait(number, wait, Math.max(0, this.rate) * dt);
    if (this.stopped && !this.stopped.standstill && (this.rate === 0 || this.time - this.stopped.at > STOP_S)) {
      this.stopped.standstill = true;
      this.running.clear();
      this.held = false;
      this.event("standstill", "Standing still.");
    }
  }

  advance(number, run, by) {
    const cue = this.cue(number);
    run.time = Math.max(0, Math.min(cue.duration, run.time + by));
    const u = run.time / cue.duration;
    const s = u * u * u * (10 + u * (6 * u - 15));
    for (const [rig, to] of Object.entries(cue.to)) {
      if (by !== 0) this.moving.add(rig);
      for (const [axis, end] of Object.entries(to)) this.pose[rig][axis] = run.from[rig][axis] + s * (end - run.from[rig][axis]);
    }
    run.state = this.rate < 0 ? "returning" : this.held || this.rate === 0 ? "holding" : "running";
    if (!this.stopped) this.cues[number] = run.state;
    if (run.time >= cue.duration) this.finish(number);
  }

  finish(number) {
    this.running.delete(number);
    this.cues[number] = "done";
    this.event("cue", `Cue ${number} is done.`);
    for (const next of CUES) if (next.after?.cue === number && next.after.from === "end") this.waiting.set(next.number, { left: next.after.wait, ended: true });
  }

  wait(number, wait, by) {
    if (wait.left === null) return;
    // A wait from an end runs on the show's clock, which stands while nothing else runs.
    wait.left -= wait.ended ? this.master * 0.02 : by;
    if (wait.left > 0) return;
    this.waiting.delete(number);
    this.start(number);
  }

  status(withStage) {
    this.seq += 1;
    const entry = (standby) => {
      const reasons = this.reasons(standby);
      return { cue: standby.cue, name: this.cue(standby.cue).name, ready: reasons.length === 0, reasons, returning: false, from: 0 };
    };
    const running = [...this.running].map(([cue, run]) => ({ cue, state: run.state, time: run.time, duration: this.cue(cue).duration, rate: this.rate, left: this.rate > 0.01 ? (this.cue(cue).duration - run.time) / this.rate : null }));
    return {
      seq: this.seq,
      time: this.time,
      show: "Salt Lantern",
      hash: this.hash,
      clearance: "proved",
      armed: this.armed,
      master: this.master,
      rate: this.rate,
      held: this.held,
      stop_bound: this.running.size ? STOP_S : 0,
      simulated: this.simulated.size > 0,
      stopped: this.stopped && { by: this.stopped.causes[0], causes: [...this.stopped.causes, ...Object.values(this.faults)], remaining: Object.values(this.faults), standstill: this.stopped.standstill },
      standby: this.standby.map(entry),
      running,
      waiting: [...this.waiting].map(([cue, wait]) => ({ cue, left: wait.left })),
      cues: this.cues,
      rigs: Object.fromEntries(RIGS.map((rig) => [rig.name, this.rigStatus(rig)])),
      inputs: Object.fromEntries(Object.entries(this.inputs).map(([name, value]) => [name, { value, age: value === null ? null : 0.1, truth: value, tripped: false }])),
      interlocks: { "lift clear of wagon": this.inputs["cellar gate closed"], "wagon needs the deck": true },
      loop: { tick: 0.002, late_p99_ms: 0.08, late_max_ms: 0.4, overruns: 0, real_time: true },
      counters: { osc_malformed: 0 },
      ...(withStage && { stage: Object.fromEntries(RIGS.map((rig) => [rig.name, bodies(rig.name, this.pose[rig.name])])), looks: { heron: look(this.pose.heron) } }),
    };
  }

  rigStatus(rig) {
    const moving = this.moving.has(rig.name) && this.rate !== 0;
    const rest = this.armed && !this.stopped ? "standstill" : "disabled";
    const state = this.faults[rig.name] ? "fault" : moving ? (this.stopped ? "stopping" : "moving") : rest;
    const axes = Object.fromEntries(rig.axes.map((axis) => {
      const position = this.pose[rig.name][axis.name] + (Math.random() - 0.5) * axis.tolerance * 0.02;
      return [axis.name, { position, speed: 0, setpoint: this.pose[rig.name][axis.name], state, unit: axis.unit, travel: axis.travel }];
    }));
    return { state, owner: this.ownerOf(rig.name), simulated: this.simulated.has(rig.name), age: this.faults[rig.name] ? 3.4 : 0.004, axes };
  }

  show() {
    return showJson({ simulated: this.simulated.size > 0, hash: this.hash });
  }

  trace(number) {
    const cue = this.cue(number);
    const traces = Array.from({ length: 24 }, (_, index) => {
      const u = index / 23;
      const s = u * u * u * (10 + u * (6 * u - 15));
      const at = (rig) => Object.fromEntries(Object.entries({ ...this.pose[rig], ...cue.to[rig] }).map(([axis, end]) => [axis, this.pose[rig][axis] + s * (end - this.pose[rig][axis])]));
      return { time: u * cue.duration, stage: Object.fromEntries(cue.rigs.map((rig) => [rig, bodies(rig, at(rig))])) };
    });
    return { number, duration: cue.duration, moves: cue.to, traces };
  }
}

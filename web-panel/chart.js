// The stage seen from above, drawn from the rigs' own bodies where they are now, with a strip above it that shows their
// heights as seen from the house.

import { byId, flag, put, say, show, svg } from "./dom.js";
import { elevationBackdrop, planBackdrop } from "./backdrop.js";
import { Ghost } from "./ghost.js";
import { placeOfText, setNames } from "./labels.js";
import { ELEVATION, extent, outline, pathOf, PLAN } from "./outline.js";
import { Sights } from "./sight.js";
import { View } from "./view.js";
import { list } from "./words.js";

export class Chart {
  constructor(model) {
    this.model = model;
    this.view = new View();
    this.caption = byId("chart-caption");
    this.plan = sheet(byId("plan"), "The stage from above");
    this.elevation = sheet(byId("elevation"), "Heights, from the house");
    this.sights = new Sights(this.plan.fields);
    this.rigs = new Map();
    this.ghost = null;
    this.ghostOf = "";
    this.hash = null;
    this.stale = true;
    /** Where the zones' names stand: the rigs' names, which move, give way to them. */
    this.zoneNames = [];
    const watch = new ResizeObserver(() => this.measure());
    watch.observe(this.plan.host);
    watch.observe(this.elevation.host);
  }

  measure() {
    const size = ({ host }) => ({ width: host.clientWidth, height: host.clientHeight });
    if (this.view.resize(size(this.plan), size(this.elevation))) this.stale = true;
    for (const part of [this.plan, this.elevation]) {
      const { width, height } = size(part);
      put(part.root, "viewBox", `0 0 ${width} ${height}`);
    }
    this.render();
  }

  render() {
    const { show: script, status } = this.model;
    if (!script || !status?.stage) return;
    if (this.hash !== script.hash) {
      this.hash = script.hash;
      this.view.reset();
      this.stale = true;
    }
    this.chooseGhost(status);
    const bodies = outlinesOf(status.stage);
    this.include(bodies);
    if (this.stale) this.redraw(script);
    this.sights.paint(status.looks ?? {}, this.view.placePlan);
    this.paint(bodies, status);
    this.explain(status);
  }

  /** The standby's motion; once it runs, its own, until it ends. */
  chooseGhost(status) {
    const running = status.running.find((entry) => entry.state !== "waiting")?.cue;
    const number = status.standby[0]?.cue ?? running ?? null;
    const motion = number === null ? null : this.model.motion(number);
    const key = motion ? `${this.hash} ${number}` : "";
    if (key === this.ghostOf) return;
    this.ghostOf = key;
    this.ghost = motion ? new Ghost(motion) : null;
    this.stale = true;
  }

  include(bodies) {
    const plan = [...bodies.values()].flatMap((rig) => rig.plan).concat(this.ghost?.outlines("plan") ?? []);
    const elevation = [...bodies.values()].flatMap((rig) => rig.elevation).concat(this.ghost?.outlines("elevation") ?? []);
    const { x0, x1, y0, y1 } = extent(plan);
    const heights = extent(elevation);
    if (this.view.include({ x0, x1, y0, y1, z0: heights.y0, z1: heights.y1 })) this.stale = true;
  }

  redraw(script) {
    this.stale = false;
    this.plan.backdrop.replaceChildren(...planBackdrop(this.view, script.zones));
    this.zoneNames = [...this.plan.backdrop.querySelectorAll(".zone-name")].map(placeOfText);
    this.elevation.backdrop.replaceChildren(...elevationBackdrop(this.view));
    this.plan.ghost.replaceChildren(...(this.ghost?.draw("plan", this.view.placePlan) ?? []));
    this.elevation.ghost.replaceChildren(...(this.ghost?.draw("elevation", this.view.placeElevation) ?? []));
  }

  paint(bodies, status) {
    for (const name of this.rigs.keys()) if (!bodies.has(name)) this.forget(name);
    for (const [name, rig] of inHeightOrder(bodies)) {
      const drawn = this.rigs.get(name) ?? this.draw(name);
      put(drawn.plan, "d", pathOf(rig.plan, this.view.placePlan));
      put(drawn.elevation, "d", pathOf(rig.elevation, this.view.placeElevation));
      const state = status.rigs[name]?.state ?? "disabled";
      const owner = status.rigs[name]?.owner ?? null;
      for (const group of [drawn.planGroup, drawn.elevationGroup]) {
        put(group, "data-state", state);
        flag(group, "owned", owner !== null);
        flag(group, "next", this.ghost?.rigs.has(name) === true && status.standby.length > 0);
      }
      say(drawn.label, owner ? `${name} · ${status.rigs[name].hand ? "in hand" : owner}` : name);
    }
    this.placeLabels(bodies);
  }

  draw(name) {
    const plan = svg("path", { class: "body" });
    const elevation = svg("path", { class: "body" });
    const label = svg("text", { class: "rig-label", "text-anchor": "middle" });
    const planGroup = svg("g", { "data-rig": name }, plan);
    const elevationGroup = svg("g", { "data-rig-height": name }, elevation);
    this.plan.rigs.append(planGroup);
    this.plan.labels.append(label);
    this.elevation.rigs.append(elevationGroup);
    const drawn = { plan, elevation, label, planGroup, elevationGroup };
    this.rigs.set(name, drawn);
    return drawn;
  }

  forget(name) {
    const drawn = this.rigs.get(name);
    for (const node of [drawn.planGroup, drawn.elevationGroup, drawn.label]) node.remove();
    this.rigs.delete(name);
  }

  placeLabels(bodies) {
    const names = [...bodies.keys()].sort().map((name) => {
      const drawn = this.rigs.get(name);
      const box = extent(bodies.get(name).plan);
      const [left, top] = this.view.placePlan([box.x0, box.y1]);
      const [right, bottom] = this.view.placePlan([box.x1, box.y0]);
      return { drawn, text: drawn.label.textContent, body: { left, top, right, bottom } };
    });
    for (const { drawn, x, y } of setNames(names, this.zoneNames, this.view.plan)) {
      put(drawn.label, "x", x.toFixed(0));
      put(drawn.label, "y", y.toFixed(0));
    }
  }

  explain(status) {
    const names = this.ghost ? list(this.ghost.names()) : "";
    const next = status.standby[0]?.cue;
    if (this.ghost && next) say(this.caption, `Drawn ahead: cue ${next} moves ${names}.`);
    else say(this.caption, names ? `The motion of ${names}.` : "");
    show(this.caption, names !== "");
  }
}

function sheet(host, title) {
  const layer = (kind) => svg("g", { class: kind });
  const parts = { host, backdrop: layer("backdrop"), ghost: layer("ghost"), fields: layer("fields"), rigs: layer("rigs"), labels: layer("labels") };
  const hatch = svg(
    "pattern",
    { id: `${host.id}-hatch`, width: 8, height: 8, patternUnits: "userSpaceOnUse", patternTransform: "rotate(45)" },
    svg("line", { class: "hatch", x1: 0, y1: 0, x2: 0, y2: 8 }),
  );
  parts.root = svg(
    "svg",
    { role: "img", "aria-label": title },
    svg("defs", {}, hatch),
    parts.backdrop,
    parts.ghost,
    parts.fields,
    parts.rigs,
    parts.labels,
  );
  host.append(parts.root);
  return parts;
}

function outlinesOf(stage) {
  return new Map(
    Object.entries(stage).map(([name, shapes]) => [
      name,
      { plan: shapes.map((shape) => outline(shape, PLAN)), elevation: shapes.map((shape) => outline(shape, ELEVATION)) },
    ]),
  );
}

/** Low rigs first, so that what hangs above is drawn above; by name where heights agree. */
function inHeightOrder(bodies) {
  const top = ([, rig]) => extent(rig.elevation).y1;
  return [...bodies].sort((a, b) => top(a) - top(b) || a[0].localeCompare(b[0]));
}

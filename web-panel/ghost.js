// The motion of a cue drawn before it happens: the room that its bodies sweep, the way that the farthest one goes, and
// where all of them end.

import { svg } from "./dom.js";
import { centre, ELEVATION, lineOf, outline, pathOf, PLAN, swept } from "./outline.js";

export class Ghost {
  /** `cue` is the daemon's GET /cue/NUMBER. */
  constructor(cue) {
    this.rigs = new Map();
    for (const name of Object.keys(cue.traces[0]?.stage ?? {})) {
      const samples = cue.traces.map((trace) => trace.stage[name] ?? []);
      this.rigs.set(name, { plan: motionOf(samples, PLAN), elevation: motionOf(samples, ELEVATION) });
    }
  }

  /** Every outline along the way, so that the view holds the whole motion. */
  outlines(kind) {
    return [...this.rigs.values()].flatMap((rig) => rig[kind].room);
  }

  names() {
    return [...this.rigs.keys()];
  }

  draw(kind, place) {
    const parts = [];
    for (const [name, rig] of this.rigs) {
      const motion = rig[kind];
      parts.push(
        svg("path", { class: "ghost-room", "data-ghost": name, d: pathOf(motion.room, place) }),
        svg("path", { class: "ghost-end", d: pathOf(motion.end, place) }),
      );
      if (motion.way.length > 1) {
        parts.push(svg("path", { class: "ghost-way", d: lineOf(motion.way, place) }), arrow(motion.way, place));
      }
    }
    return parts;
  }
}

function motionOf(samples, view) {
  const bodies = samples[0].map((_, body) => samples.map((sample) => outline(sample[body], view)));
  const ways = bodies.map((outlines) => outlines.map(centre));
  const way = ways.reduce((far, next) => (lengthOf(next) > lengthOf(far) ? next : far), []);
  return {
    room: bodies.flatMap((outlines) => (outlines.length > 1 ? swept(outlines) : outlines)),
    end: bodies.map((outlines) => outlines.at(-1)),
    way: lengthOf(way) > 0.05 ? way : [],
  };
}

function lengthOf(way) {
  return way.slice(1).reduce((sum, [x, y], index) => sum + Math.hypot(x - way[index][0], y - way[index][1]), 0);
}

/** The head of the way, pointing as it arrives. */
function arrow(way, place) {
  const [x, y] = place(way.at(-1));
  const from = way.map(place).findLast(([px, py]) => Math.hypot(px - x, py - y) > 6) ?? place(way[0]);
  const angle = Math.atan2(y - from[1], x - from[0]);
  const wing = (turn) => `${(x - 11 * Math.cos(angle + turn)).toFixed(1)} ${(y - 11 * Math.sin(angle + turn)).toFixed(1)}`;
  return svg("path", { class: "ghost-arrow", d: `M${x.toFixed(1)} ${y.toFixed(1)}L${wing(0.4)}L${wing(-0.4)}Z` });
}

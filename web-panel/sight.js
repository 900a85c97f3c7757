// What each camera sees, in the plan: the field of its lens, and across it where it is focused, from where its axes are measured.

import { put, svg } from "./dom.js";
import { lineOf, pathOf } from "./outline.js";

/** Metres that a field is drawn long at least, and at most: as far as the lens is focused. */
const SHORT = 4;
const LONG = 15;

/**
 * A field in metres: its corners, from the lens to where the picture's level edges end, and the line across it at the distance of
 * focus, if that is known and on the sheet. Without an angle of view, a line. `along` is a unit vector; a camera that looks down has
 * a short field, seen from above.
 */
export function fieldOf({ from, along, view, focus }) {
  const level = Math.hypot(along[0], along[1]);
  const right = level > 1e-6 ? [along[1] / level, -along[0] / level] : [1, 0];
  const half = view === null ? 0 : Math.tan((view * Math.PI) / 360);
  const corner = (far, side) => [0, 1].map((axis) => from[axis] + far * (along[axis] + side * half * right[axis]));
  const across = (far) => [corner(far, -1), corner(far, 1)];
  const far = Math.min(Math.max(focus ?? SHORT, SHORT), LONG);
  return { corners: [[from[0], from[1]], ...across(far)], focus: focus !== null && focus <= LONG ? across(focus) : [] };
}

export class Sights {
  constructor(layer) {
    this.layer = layer;
    this.drawn = new Map();
  }

  /** `looks` is the status's: for each rig with a lens what it sees; `place` turns metres into pixels. */
  paint(looks, place) {
    for (const [name, { group }] of this.drawn) {
      if (name in looks) continue;
      group.remove();
      this.drawn.delete(name);
    }
    for (const [name, look] of Object.entries(looks)) {
      const { corners, focus } = fieldOf(look);
      const drawn = this.drawn.get(name) ?? this.draw(name);
      put(drawn.field, "d", pathOf([corners], place));
      put(drawn.focus, "d", lineOf(focus, place));
    }
  }

  draw(name) {
    const field = svg("path", { class: "field", "data-field": name });
    const focus = svg("path", { class: "field-focus" });
    const group = svg("g", {}, field, focus);
    this.layer.append(group);
    const drawn = { group, field, focus };
    this.drawn.set(name, drawn);
    return drawn;
  }
}

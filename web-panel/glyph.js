// One shape a state. Colour comes from the style sheet; the shape and the word beside it carry the meaning alone.

import { svg } from "./dom.js";

const SHAPES = {
  // Cue states.
  idle: "M8 5a3 3 0 1 0 0 6a3 3 0 0 0 0-6z",
  standby: "M2 3h12v10H2z M5 8h6",
  waiting: "M3 2h10L8 8l5 6H3l5-6z",
  running: "M3 2l11 6l-11 6z",
  holding: "M3 2h3v12H3z M10 2h3v12h-3z",
  returning: "M13 2L2 8l11 6z",
  done: "M2 8l4 4l8-9",
  stopped: "M2 2h12v12H2z",
  // Axis states.
  disabled: "M8 2a6 6 0 1 0 0 12a6 6 0 0 0 0-12z M4 12L12 4",
  homing: "M2 8l6-6l6 6 M4 7v7h8V7",
  standstill: "M2 8h12 M8 4v8",
  moving: "M2 8h11 M9 3l5 5l-5 5",
  stopping: "M2 8h9 M13 2v12 M7 4l4 4l-4 4",
  fault: "M3 3l10 10 M13 3L3 13",
  // Truth.
  true: "M8 1a7 7 0 1 0 0 14a7 7 0 0 0 0-14z M4.5 8l2.5 3l5-6",
  false: "M2 2h12v12H2z M5 5l6 6 M11 5l-6 6",
  unknown: "M8 1l7 7l-7 7l-7-7z M8 5v3.5 M8 10.5v.5",
};

const SOLID = new Set(["running", "returning", "holding", "stopped"]);

export function glyph(name) {
  const path = svg("path", { d: SHAPES[name] ?? SHAPES.unknown });
  const kind = SOLID.has(name) ? "glyph solid" : "glyph";
  return svg("svg", { class: kind, viewBox: "0 0 16 16", "aria-hidden": "true", "data-glyph": name }, path);
}

/** Sets the glyph in `slot`, once per change. */
export function setGlyph(slot, name) {
  if (slot.firstElementChild?.getAttribute("data-glyph") !== name) slot.replaceChildren(glyph(name));
}

export function truthWord(value) {
  if (value === true) return "true";
  return value === false ? "false" : "unknown";
}

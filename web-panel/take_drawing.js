// A take as lines: a strip for each axis with its samples and the path through them, and how much stretch its limits ask for.

import { el, svg } from "./dom.js";
import { number, unit } from "./words.js";

const WIDTH = 300;
const STRIP = 46;
/** Of what a strip shows, so that no line lies on its edge. */
const EDGE = 0.08;

/** A strip for each axis. */
export function drawing({ drawn }) {
  return el("div", {}, ...drawn.axes.map((axis) => strip(axis, drawn.lasts)));
}

function strip({ axis, unit: in_, samples, path }, lasts) {
  const values = [...samples, ...path].map(([, value]) => value);
  const [low, high] = [Math.min(...values), Math.max(...values)];
  const room = high - low || 1;
  const x = (time) => (WIDTH * time) / lasts;
  const y = (value) => STRIP * (1 - EDGE - (1 - 2 * EDGE) * ((value - low) / room));
  const dots = samples.map(([time, value]) => `M${x(time).toFixed(1)} ${y(value).toFixed(1)}h0`).join("");
  const line = path.map(([time, value], index) => `${index ? "L" : "M"}${x(time).toFixed(1)} ${y(value).toFixed(1)}`).join("");
  const ends = `${number(low, 2)} to ${number(high, 2)} ${unit(in_)}`;
  return el(
    "figure",
    { class: "strip-figure" },
    el("figcaption", {}, axis, el("span", {}, ends)),
    picture(STRIP, `${axis}: the samples and the path through them, ${ends}`, svg("path", { class: "take-dots", d: dots }), svg("path", { class: "take-path", d: line })),
  );
}

/** How much stretch its limits ask for all along; above the line it is too fast as it was recorded. */
export function curve({ drawn, least_stretch }) {
  const top = Math.max(1.15, 1.05 * least_stretch);
  const y = (value) => STRIP * (1 - value / top);
  const wide = WIDTH / drawn.asks.length;
  const bar = (value, index) => `M${(index * wide).toFixed(1)} ${STRIP}V${y(value).toFixed(1)}h${wide.toFixed(2)}V${STRIP}z`;
  const under = drawn.asks.map((value, index) => (value <= 1 ? bar(value, index) : "")).join("");
  const over = drawn.asks.map((value, index) => (value > 1 ? bar(value, index) : "")).join("");
  return el(
    "figure",
    { class: "strip-figure" },
    el("figcaption", {}, "asks of its limits", el("span", {}, `most ${number(100 * least_stretch, 0)} %`)),
    picture(
      STRIP,
      `How much of its pace the limits allow; at most ${number(100 * least_stretch, 0)} per cent`,
      svg("path", { class: "asks-under", d: under }),
      svg("path", { class: "asks-over", d: over }),
      svg("path", { class: "asks-limit", d: `M0 ${y(1).toFixed(1)}H${WIDTH}` }),
    ),
  );
}

function picture(height, label, ...marks) {
  return svg("svg", { viewBox: `0 0 ${WIDTH} ${height}`, preserveAspectRatio: "none", role: "img", "aria-label": label }, ...marks);
}

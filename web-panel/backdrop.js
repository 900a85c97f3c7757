// What stands still on the chart: the metre grid, the setting line, the centre line, the house, the zones.

import { svg } from "./dom.js";

export function planBackdrop(view, zones) {
  const paper = view.paper();
  const place = view.placePlan;
  const { width, height } = view.plan;
  const parts = [...grid(paper, place, width, height)];
  for (const zone of zones) parts.push(...zoneParts(zone, [0, 1], paper, place));
  const [cx, cy] = place([0, 0]);
  parts.push(
    line("centre-line", cx, 0, cx, height),
    line("setting-line", 0, cy, width, cy),
    label("chart-word", 6, cy - 5, "setting line"),
    label("chart-word", cx + 6, height - 28, "centre line"),
    label("chart-word house", width / 2, height - 8, "the house", "middle"),
  );
  return parts;
}

export function elevationBackdrop(view) {
  const { z0, z1, x0, x1 } = view.paper();
  const { width } = view.elevation;
  const place = view.placeElevation;
  // A figure needs its own height in pixels, whatever the metres.
  const step = [1, 2, 5, 10].find((metres) => metres * view.rise >= 17) ?? 10;
  const parts = [];
  for (let x = Math.ceil(x0); x <= x1; x += 1) {
    const [px] = place([x, 0]);
    parts.push(line(x % 5 === 0 ? "grid five" : "grid", px, 0, px, view.elevation.height));
  }
  for (let z = Math.ceil(z0 / step) * step; z <= z1; z += step) {
    const [, py] = place([0, z]);
    parts.push(line(z === 0 ? "deck-line" : "grid five", 0, py, width, py));
    const low = py > view.elevation.height - 4 || py < 10;
    if (!low) parts.push(label("chart-figure", 4, py - 2, z === 0 ? "deck" : `${z > 0 ? "+" : "−"}${Math.abs(z)} m`));
  }
  return parts;
}

function grid({ x0, x1, y0, y1 }, place, width, height) {
  const parts = [];
  for (let x = Math.ceil(x0); x <= x1; x += 1) {
    const [px] = place([x, 0]);
    parts.push(line(x % 5 === 0 ? "grid five" : "grid", px, 0, px, height));
    if (x % 5 === 0 && x !== 0) parts.push(label("chart-figure", px + 3, height - 5, figure(x)));
  }
  for (let y = Math.ceil(y0); y <= y1; y += 1) {
    const [, py] = place([0, y]);
    parts.push(line(y % 5 === 0 ? "grid five" : "grid", 0, py, width, py));
    if (y % 5 === 0 && y !== 0) parts.push(label("chart-figure", 4, py - 3, figure(y)));
  }
  return parts;
}

function zoneParts(zone, [a, b], paper, place) {
  // A zone may reach far beyond the paper; its name belongs on what is seen of it.
  const x0 = Math.max(zone.min[a], paper.x0);
  const x1 = Math.min(zone.max[a], paper.x1);
  const y0 = Math.max(zone.min[b], paper.y0);
  const y1 = Math.min(zone.max[b], paper.y1);
  if (x0 >= x1 || y0 >= y1) return [];
  const [left, top] = place([x0, y1]);
  const [right, bottom] = place([x1, y0]);
  const box = { x: left, y: top, width: right - left, height: bottom - top };
  const words = zone.keep === "in" ? `keep in: ${zone.name}` : zone.name;
  const parts = [svg("rect", { class: `zone ${zone.keep}`, "data-zone": zone.name, ...box })];
  if (box.width > 40 && box.height > 12) parts.push(label("zone-name", left + 5, top + 13, words));
  return parts;
}

function line(kind, x1, y1, x2, y2) {
  return svg("line", { class: kind, x1: px(x1), y1: px(y1), x2: px(x2), y2: px(y2) });
}

function label(kind, x, y, text, anchor = "start") {
  return svg("text", { class: kind, x: px(x), y: px(y), "text-anchor": anchor }, text);
}

/** Half pixels draw one-pixel lines sharp. */
function px(value) {
  return (Math.round(value) + 0.5).toString();
}

function figure(metres) {
  return `${metres < 0 ? "−" : ""}${Math.abs(metres)}`;
}

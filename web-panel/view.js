// From metres to pixels. The view grows in whole metres to hold every body and never shrinks while a show lasts, so
// that the picture stands still; plan and elevation share the scale along x and lie one above the other.

/** At least this much of the stage is seen, m. */
const LEAST = { x0: -4, x1: 4, y0: -3, y1: 3, z0: -0.6, z1: 3 };
const EDGE_M = 0.4;
/** Wires run up to the grid and beyond; what lies outside these heights does not decide the strip's scale, m. */
const HEIGHTS = { z0: -4, z1: 10 };

export class View {
  constructor() {
    this.plan = { width: 0, height: 0 };
    this.elevation = { width: 0, height: 0 };
    this.reset();
  }

  reset() {
    this.box = { ...LEAST };
    this.fit();
  }

  /** True if the view had to grow. `seen` is in metres, with any of x0 … z1. */
  include(seen) {
    let grown = false;
    for (const [side, value] of Object.entries(seen)) {
      const low = side.endsWith("0");
      const beyond = low ? value < this.box[side] : value > this.box[side];
      if (!Number.isFinite(value) || !beyond) continue;
      const edge = low ? Math.floor(value - EDGE_M) : Math.ceil(value + EDGE_M);
      const next = side in HEIGHTS ? clamp(edge, HEIGHTS) : edge;
      if (next === this.box[side]) continue;
      this.box[side] = next;
      grown = true;
    }
    if (grown) this.fit();
    return grown;
  }

  /** True if the size is new, px. */
  resize(plan, elevation) {
    const same = (a, b) => a.width === b.width && a.height === b.height;
    if (same(plan, this.plan) && same(elevation, this.elevation)) return false;
    this.plan = plan;
    this.elevation = elevation;
    this.fit();
    return true;
  }

  fit() {
    const { x0, x1, y0, y1, z0, z1 } = this.box;
    this.scale = Math.max(1, Math.min(this.plan.width / (x1 - x0), this.plan.height / (y1 - y0)));
    // The stage keeps to the middle; the rest of the paper shows more grid.
    this.left = (this.plan.width - (x1 - x0) * this.scale) / 2;
    this.top = (this.plan.height - (y1 - y0) * this.scale) / 2;
    this.rise = Math.max(1, this.elevation.height / (z1 - z0));
    const x = (metres) => this.left + (metres - x0) * this.scale;
    this.placePlan = ([mx, my]) => [x(mx), this.top + (y1 - my) * this.scale];
    this.placeElevation = ([mx, mz]) => [x(mx), (z1 - mz) * this.rise];
  }

  /** Whole metres from edge to edge of the paper, per direction. */
  paper() {
    const { x0, y1, z0, z1 } = this.box;
    return {
      x0: x0 - this.left / this.scale,
      x1: x0 + (this.plan.width - this.left) / this.scale,
      y0: y1 - (this.plan.height - this.top) / this.scale,
      y1: y1 + this.top / this.scale,
      z0,
      z1,
    };
  }
}

function clamp(height, { z0, z1 }) {
  return Math.min(z1, Math.max(z0, height));
}

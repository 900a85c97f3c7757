// The outlines of bodies as seen along an axis of the world: in plan from above, in elevation from the house.
// Every body is convex, so its outline is the convex hull of a few of its points.

/** Seen from above: x to the right, y up the stage. */
export const PLAN = ([x, y]) => [x, y];
/** Seen from the house: x to the right, z up. */
export const ELEVATION = ([x, , z]) => [x, z];

/** Convex polygon, anticlockwise, in metres. */
export function outline(shape, view) {
  if (shape.capsule) {
    const { from, to, radius } = shape.capsule;
    return hull([...circle(view(from), radius), ...circle(view(to), radius)]);
  }
  if (shape.sphere) return circle(view(shape.sphere.at), shape.sphere.radius);
  return hull(shape.box.corners.map(view));
}

function circle([x, y], radius) {
  const count = radius > 1 ? 48 : 24;
  return Array.from({ length: count }, (_, index) => {
    const angle = (2 * Math.PI * index) / count;
    return [x + radius * Math.cos(angle), y + radius * Math.sin(angle)];
  });
}

/** Andrew's monotone chain (A. M. Andrew, Information Processing Letters 9, 1979). */
export function hull(points) {
  const sorted = [...points].sort((a, b) => a[0] - b[0] || a[1] - b[1]);
  const half = (ordered) => {
    const chain = [];
    for (const point of ordered) {
      while (chain.length > 1 && turn(chain.at(-2), chain.at(-1), point) <= 1e-12) chain.pop();
      chain.push(point);
    }
    return chain.slice(0, -1);
  };
  return [...half(sorted), ...half(sorted.reverse())];
}

function turn(a, b, c) {
  return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]);
}

/** `{ x0, x1, y0, y1 }` of polygons. */
export function extent(polygons) {
  const box = { x0: Infinity, x1: -Infinity, y0: Infinity, y1: -Infinity };
  for (const polygon of polygons) {
    for (const [x, y] of polygon) {
      box.x0 = Math.min(box.x0, x);
      box.x1 = Math.max(box.x1, x);
      box.y0 = Math.min(box.y0, y);
      box.y1 = Math.max(box.y1, y);
    }
  }
  return box;
}

export function centre(polygon) {
  const box = extent([polygon]);
  return [(box.x0 + box.x1) / 2, (box.y0 + box.y1) / 2];
}

/** What a body sweeps between samples, as convex pieces whose union it is (as far as the samples are dense). */
export function swept(samples) {
  return samples.slice(1).map((polygon, index) => hull([...samples[index], ...polygon]));
}

/** Path data of polygons; `place` turns metres into pixels. Tenths of a pixel: finer only flickers. */
export function pathOf(polygons, place) {
  let data = "";
  for (const polygon of polygons) {
    polygon.forEach((point, index) => {
      const [x, y] = place(point);
      data += `${index === 0 ? "M" : "L"}${x.toFixed(1)} ${y.toFixed(1)}`;
    });
    data += "Z";
  }
  return data;
}

/** Path data of an open line. */
export function lineOf(points, place) {
  return points
    .map((point, index) => {
      const [x, y] = place(point);
      return `${index === 0 ? "M" : "L"}${x.toFixed(1)} ${y.toFixed(1)}`;
    })
    .join("");
}

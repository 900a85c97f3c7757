// Where the rigs' names stand on the chart: in the body if it is roomy, else beside it, and never on another name. A name
// keeps its side for as long as that is free, so that it does not hop about while its rig moves.

/** Of a name, as chart.css sets it. */
const LINE_PX = 15;
const LETTER_PX = 7.5;
/** A name does not fit into a smaller body. */
const ROOMY_PX = 26;
const GAP_PX = 6;

/** The middle of a text that begins at its x, px. */
export function placeOfText(text) {
  const half = halfOf(text.textContent);
  return { x: Number(text.getAttribute("x")) + half, y: Number(text.getAttribute("y")), half };
}

/**
 * Yields each of `names` with its x (middle) and y (base line). `names` are `{ drawn, text, body }`; the side that was
 * chosen is remembered in `drawn.side`. `taken` holds places that are not to be written over.
 */
export function* setNames(names, taken, paper) {
  const places = [...taken];
  for (const { drawn, text, body } of names) {
    const half = halfOf(text);
    const sides = sidesOf(body, half, paper);
    const free = (side) => side in sides && places.every((other) => !touch(other, sides[side]));
    const side = [drawn.side, ...Object.keys(sides)].find((candidate) => candidate && free(candidate)) ?? Object.keys(sides)[0];
    drawn.side = side;
    places.push(sides[side]);
    yield { drawn, ...sides[side] };
  }
}

/** The places that a name may take, the best first. */
function sidesOf({ left, top, right, bottom }, half, paper) {
  const [x, y] = [(left + right) / 2, (top + bottom) / 2 + 4];
  const within = (place) => ({
    x: Math.min(paper.width - half - 2, Math.max(half + 2, place.x)),
    y: Math.min(paper.height - 4, Math.max(LINE_PX, place.y)),
    half,
  });
  const outside = {
    below: within({ x, y: bottom + LINE_PX }),
    above: within({ x, y: top - GAP_PX }),
    right: within({ x: right + GAP_PX + half, y }),
    left: within({ x: left - GAP_PX - half, y }),
    farBelow: within({ x, y: bottom + 2 * LINE_PX }),
  };
  const roomy = bottom - top > ROOMY_PX && right - left > ROOMY_PX;
  return roomy ? { inside: within({ x, y }), ...outside } : outside;
}

function touch(a, b) {
  return Math.abs(a.x - b.x) < a.half + b.half && Math.abs(a.y - b.y) < LINE_PX;
}

function halfOf(text) {
  return (text.length * LETTER_PX) / 2;
}

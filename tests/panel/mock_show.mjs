// A small harbour for the mock daemon: six rigs as bodies, a running order, and where the bodies are at a pose.

const axis = (name, unit, travel, start, tolerance, speed, gravity = false) => ({ name, unit, travel, start, tolerance, speed, gravity });

export const RIGS = [
  { name: "heron", kind: "jib", axes: [axis("swing", "deg", [-75, 10], -50, 0.5, 9), axis("boom", "deg", [-4, 34], 0, 0.5, 7), axis("pan", "deg", [-170, 170], 0, 0.5, 30), axis("tilt", "deg", [-60, 30], 0, 0.5, 25), axis("zoom", "percent", [0, 100], 0, 1, 40), axis("focus", "percent", [0, 100], 0, 1, 60)] },
  { name: "minnow", kind: "slider", axes: [axis("travel", "m", [0, 3], 0, 0.01, 0.4), axis("pan", "deg", [-170, 170], 0, 0.5, 30)] },
  { name: "millwheel", kind: "revolve", axes: [axis("turn", "deg", [-10, 730], 0, 0.1, 10)] },
  { name: "tide", kind: "lift", axes: [axis("height", "m", [-2.4, 0], 0, 0.01, 0.2, true)] },
  { name: "gull", kind: "flown lamp", axes: [axis("traverse", "m", [-4, 4], -3.6, 0.02, 0.6), axis("height", "m", [1.8, 7.2], 7, 0.02, 0.8, true)] },
  { name: "skiff", kind: "wagon", axes: [axis("travel", "m", [-7.5, 5.5], -7, 0.02, 0.4)] },
];

export const CUES = [
  cue("1", "House to dark", { heron: { swing: -20, boom: 28 } }, 8, { page: "3", call: "as the house goes", watch: "ASM, stalls left" }),
  cue("2", "First lamp", { gull: { height: 3.4 } }, 9, { page: "3", follow: "1 end + 2 s", after: { cue: "1", from: "end", wait: 2 } }),
  cue("3", "Harbour wakes", { minnow: { travel: 2.4, pan: 35 } }, 10, { page: "5", call: "first bell" }),
  cue("4", "Mill turns", { millwheel: { turn: 90 } }, 18, { page: "8", call: "then let it turn" }),
  cue("5", "Low water", { tide: { height: -2.4 } }, 16, { page: "11", call: "lamp to the window", needs: "cellar gate closed" }),
  cue("6", "Cellar man", { heron: { swing: -40, boom: 12 } }, 7, { follow: "5 start + 6 s", after: { cue: "5", from: "start", wait: 6 } }),
  cue("7", "Mill night", { millwheel: { turn: 180 } }, 18, { page: "14", call: "owl" }),
  cue("8", "Lamp down the quay", { gull: { traverse: 2 } }, 18, { page: "16", call: "she looks up" }),
  cue("9", "Over the quay", { heron: { swing: 0, boom: 20 } }, 9, { page: "16", call: "lamp stands", needs: "cue 8 done" }),
  cue("10", "Lamp out", { gull: { height: 7 } }, 8, { follow: "9 end + 1 s", after: { cue: "9", from: "end", wait: 1 } }),
  cue("12.5", "Heron lifts for the long harbour view", { heron: { swing: -20, boom: 28 } }, 7, { page: "21", call: "horn, twice" }),
];

function cue(number, name, moves, duration, more) {
  const text = Object.entries(moves).flatMap(([rig, to]) => Object.entries(to).map(([name, value]) => `${rig} ${name} → ${value} in ${duration}.0 s`));
  return { number, name, page: null, call: null, watch: null, notes: null, gap: null, follow: null, needs: null, duration, stop_time: 1.4, rigs: Object.keys(moves), moves: text, to: moves, ...more };
}

/** What a lens can follow: every other rig. */
function focusOf(rig) {
  if (!rig.axes.some((axis) => axis.name === "focus")) return null;
  return { axis: "focus", on: RIGS.filter((other) => other !== rig).map((other) => other.name) };
}

export function showJson({ simulated, hash }) {
  return {
    show: "Salt Lantern",
    hash,
    tick: 0.002,
    margin: 0.3,
    simulated,
    rigs: RIGS.map((rig) => ({ ...rig, simulated, marks: [], focus: focusOf(rig), axes: rig.axes.map(({ start, ...rest }) => rest) })),
    cues: CUES.map(({ to, after, ...rest }) => rest),
    zones: [
      { name: "orchestra pit", keep: "out", min: [-6, -4, -2.5], max: [6, -1, 0.2] },
      { name: "proscenium pier", keep: "out", min: [-9, -0.4, 0], max: [-6.2, 0.2, 8] },
      { name: "front row", keep: "out", min: [-50, -50, -3], max: [50, -7.6, 3] },
    ],
    inputs: [
      { name: "cellar gate closed", max_age: 0.5, trips: false },
      { name: "deck clear", max_age: 0.5, trips: true },
      { name: "emergency-stop chain healthy", max_age: 0.5, trips: true },
    ],
    interlocks: [
      { name: "lift clear of wagon", guards: ["tide.height down"], otherwise: "stop", needs: "cellar gate closed, and skiff.travel below −3.3 or above 3.3" },
      { name: "wagon needs the deck", guards: ["skiff"], otherwise: "stop", needs: "tide.height above −0.02, or skiff.travel below −3.3 or above 3.3" },
    ],
    cautions: [
      "The stop here is an operational stop. Emergency stop, enabling devices, final limits and brakes are independent hardware; a button on a screen is not an emergency stop (ISO 13850).",
      "No one rides on or stands under a rig on the word of this program.",
      "Local codes, the rigs’ makers and the licensed or competent person on site decide.",
    ],
  };
}

/** The bodies of one rig in the world. `at` holds its axes' positions. */
export function bodies(rig, at) {
  const capsule = (from, to, radius) => ({ capsule: { from, to, radius } });
  const sphere = (where, radius) => ({ sphere: { at: where, radius } });
  switch (rig) {
    case "heron": {
      const along = (reach) => {
        const [swing, boom] = [((90 + at.swing) * Math.PI) / 180, (at.boom * Math.PI) / 180];
        return [-4 + reach * Math.cos(boom) * Math.cos(swing), -5.2 + reach * Math.cos(boom) * Math.sin(swing), 1.4 + reach * Math.sin(boom)];
      };
      return [box([-4, -5.2, 0.5], [0.6, 0.6, 1], 0), capsule(along(-1.6), along(6), 0.15), sphere(along(6), 0.4), sphere(along(-1.6), 0.35)];
    }
    case "minnow":
      return [box([3, -0.45, 0.175], [3.2, 0.3, 0.35], 0), sphere([1.5 + at.travel, -0.45, 0.7], 0.35)];
    case "millwheel": {
      const turn = (at.turn * Math.PI) / 180;
      const house = [-1.65 * Math.sin(turn), 5.6 + 1.65 * Math.cos(turn), 1.5];
      return [box([0, 5.6, -0.15], [4.24, 4.24, 0.3], turn), box(house, [2.4, 1.2, 3], turn)];
    }
    case "tide":
      return [box([0, 1.2, at.height - 0.15], [3, 1.6, 0.3], 0)];
    case "gull":
      return [sphere([at.traverse, 0.5, at.height], 0.35), capsule([at.traverse, 0.5, at.height], [at.traverse, 0.5, at.height + 8], 0.05)];
    case "skiff":
      return [box([at.travel, 1.2, 0.575], [2.4, 1.2, 1.05], 0)];
    default:
      throw new Error(`The mock has no bodies for the rig "${rig}".`);
  }
}

/** What the camera at the head of heron sees: focused at 9 m, 40 degrees wide. */
export function look(at) {
  const { sphere } = bodies("heron", at)[2];
  const [bearing, tilt] = [((90 + at.swing + at.pan) * Math.PI) / 180, (at.tilt * Math.PI) / 180];
  const along = [Math.cos(tilt) * Math.cos(bearing), Math.cos(tilt) * Math.sin(bearing), Math.sin(tilt)];
  return { from: sphere.at, along, view: 40, focus: 9 };
}

function box([x, y, z], [length, width, height], turn) {
  const corners = [];
  for (const dz of [-height / 2, height / 2])
    for (const [dx, dy] of [[-length / 2, -width / 2], [length / 2, -width / 2], [length / 2, width / 2], [-length / 2, width / 2]])
      corners.push([x + dx * Math.cos(turn) - dy * Math.sin(turn), y + dx * Math.sin(turn) + dy * Math.cos(turn), z + dz]);
  return { box: { corners } };
}

// What counts as a press of GO. A stage is dark, hands are cold, sleeves are wide and glass gets wet: a press has to
// begin on the button, alone, with a fingertip, and on a picture that the eye could have read.

/** A fingertip covers 30 to 60 px; more than this is a palm or a sleeve. */
const PALM_PX = 100;
const QUEUED_MS = 300;

/** Counts the fingers on the glass. A touch whose end was lost is forgotten when the window loses the focus. */
export class Fingers {
  constructor() {
    this.down = new Set();
    const add = (event) => event.pointerType !== "mouse" && this.down.add(event.pointerId);
    const remove = (event) => this.down.delete(event.pointerId);
    addEventListener("pointerdown", add, { capture: true });
    addEventListener("pointerup", remove, { capture: true });
    addEventListener("pointercancel", remove, { capture: true });
    addEventListener("blur", () => this.down.clear());
    document.addEventListener("visibilitychange", () => this.down.clear());
  }

  others(event) {
    return [...this.down].filter((id) => id !== event.pointerId).length;
  }
}

/** Whether it is a palm or a sleeve. */
export function wide({ width, height }) {
  return width > PALM_PX || height > PALM_PX;
}

/** Whether it waited so long in the browser's queue that it was made on an older picture. */
export function wasQueued({ timeStamp }) {
  return performance.now() - timeStamp > QUEUED_MS;
}

/** Why this press is not to be believed, or null. */
export function doubt(event, fingers) {
  if (event.button !== 0) return "Only the main button or a fingertip fires.";
  if (!event.isTrusted) return "Only a press by hand fires.";
  if (fingers.others(event) > 0) return "Something else touches the glass. Lift it, then press GO.";
  if (wide(event)) return "That was wider than a fingertip. Press GO with one finger.";
  if (wasQueued(event)) return "That press reached the panel late. Look, then press GO.";
  return null;
}

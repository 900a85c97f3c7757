// What holds a thing that drives: a fingertip, from where it came down until it is let go of or lost in any way; or a key. A
// sleeve, a palm, a press that nobody made or that comes late take nothing. While it is held it goes on again and again, since
// silence is zero to the daemon; once it may not, or is out of sight, it is let go of at once.

import { wasQueued, wide } from "./press.js";

export class Grasp {
  /**
   * `allowed()` is asked before it is taken and before it goes on, every `every` ms. `told` is called: `taken(event)` as it is
   * taken, `moved(event)` as the finger is drawn, `goesOn()`, and `lost()`.
   */
  constructor(surface, allowed, every, told) {
    [this.surface, this.allowed, this.every, this.told] = [surface, allowed, every, told];
    /** The pointer's number or the key's name; null while nobody holds it. */
    this.by = null;
    this.timer = null;
    surface.addEventListener("pointerdown", (event) => this.press(event));
    surface.addEventListener("pointermove", (event) => event.pointerId === this.by && this.told.moved(event));
    for (const kind of ["pointerup", "pointercancel", "lostpointercapture"]) {
      surface.addEventListener(kind, (event) => event.pointerId === this.by && this.release());
    }
    surface.addEventListener("contextmenu", (event) => event.preventDefault());
    addEventListener("blur", () => this.release());
    document.addEventListener("visibilitychange", () => this.release());
    addEventListener("pagehide", () => this.release());
  }

  press(event) {
    event.preventDefault();
    if (event.button !== 0 || wasQueued(event) || wide(event)) return;
    this.take(event.pointerId, event, () => this.surface.setPointerCapture(event.pointerId));
  }

  /** By a pointer or a key, unless it is held already. */
  take(by, event, first = () => {}) {
    if (this.by !== null || !event.isTrusted || !this.possible()) return;
    first();
    this.by = by;
    this.timer = setInterval(() => this.goOn(), this.every);
    this.told.taken(event);
  }

  held() {
    return this.by !== null;
  }

  goOn() {
    if (this.possible()) this.told.goesOn();
    else this.release();
  }

  /** Called at each picture: what was taken away is no longer held. */
  check() {
    if (!this.possible()) this.release();
  }

  possible() {
    const { isConnected, hidden, disabled } = this.surface;
    return this.allowed() && isConnected && !hidden && !disabled && document.visibilityState === "visible";
  }

  release() {
    if (this.by === null) return;
    clearInterval(this.timer);
    this.by = null;
    this.told.lost();
  }
}

/** Whether the finger is beside the element. Captured, one that slides off still counts for it: only its place tells. */
export function isBeside({ clientX, clientY }, element) {
  const { left, right, top, bottom } = element.getBoundingClientRect();
  return clientX < left || clientX > right || clientY < top || clientY > bottom;
}

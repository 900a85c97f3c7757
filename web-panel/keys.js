// The keyboard: Escape stops. The space bar does nothing at all, since hands reach for it to fire; neither does it
// scroll or press a button that happens to have the focus.

export function bindKeys(stop) {
  addEventListener(
    "keydown",
    (event) => {
      if (event.key === "Escape") {
        event.preventDefault();
        if (!event.repeat) stop.now();
      } else if (event.code === "Space" || event.key === " ") {
        swallow(event);
      }
    },
    { capture: true },
  );
  // A button acts on the release of the space bar, so that has to be swallowed too.
  for (const kind of ["keypress", "keyup"]) {
    addEventListener(kind, (event) => (event.code === "Space" || event.key === " ") && swallow(event), { capture: true });
  }
}

function swallow(event) {
  event.preventDefault();
  event.stopImmediatePropagation();
}

// A panel that nobody can see must not pretend that somebody watches: hidden, it lets its lease go. Seen again, or
// thawed by the browser, it starts its link afresh.

/** A glance at another tab shorter than the lease costs nothing. */
const GRACE_MS = 800;

export function bindWaking(model) {
  let timer = null;
  let title = null;
  const sleep = () => {
    model.link.sleep();
    // The title is all that can be seen of a hidden page.
    title ??= document.title;
    document.title = `ASLEEP · ${title}`;
  };
  const follow = () => {
    clearTimeout(timer);
    if (document.visibilityState === "hidden") {
      timer = setTimeout(sleep, GRACE_MS);
    } else {
      if (title !== null) document.title = title;
      title = null;
      model.link.wake();
      keepScreenOn();
    }
    model.onChange();
  };
  document.addEventListener("visibilitychange", follow);
  addEventListener("pageshow", (event) => event.persisted && model.link.restart());
  document.addEventListener("resume", () => model.link.restart());
  follow();
}

/** A tablet beside the stage should not go dark by itself. Browsers allow this only over a secure origin. */
async function keepScreenOn() {
  try {
    await navigator.wakeLock?.request("screen");
  } catch {
    // Refused, for instance on a low battery; the operator sees the screen dim and knows.
  }
}

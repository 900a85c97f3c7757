// What a test's hands and eyes do with the panel.

import assert from "node:assert/strict";

export const PATIENCE_MS = 8000;

export async function open(page, url) {
  await page.goto(url);
  await page.waitForSelector("[data-rig] path[d]", { state: "attached", timeout: PATIENCE_MS });
  await page.waitForFunction(() => document.getElementById("lost").hidden, null, { timeout: PATIENCE_MS });
}

/** Waits until the element says something that matches. */
export async function says(page, selector, pattern, patience = PATIENCE_MS) {
  const read = () => page.locator(selector).first().textContent();
  const until = Date.now() + patience;
  for (;;) {
    const text = await read();
    if (pattern.test(text)) return text;
    if (Date.now() > until) assert.match(text, pattern, `${selector} says something else after ${patience / 1000} s`);
    await page.waitForTimeout(50);
  }
}

export async function arm(page) {
  if (/^Armed/.test(await page.textContent("#arm-open"))) return;
  await page.click("#arm-open");
  await page.click("#arm-do");
  await says(page, "#arm-open", /^Armed/);
}

export async function disarm(page) {
  if (/^Disarmed/.test(await page.textContent("#arm-open"))) return;
  await page.click("#arm-open");
  await page.click("#arm-do");
  await says(page, "#arm-open", /^Disarmed/);
}

export async function standBy(page, cue) {
  const row = page.locator(`#order-list [data-cue="${cue}"]`);
  await row.locator(".cue-choose").click();
  await row.locator(".cue-detail button").click();
  await says(page, "#standby-number", new RegExp(`^${cue}$`)).catch(async (error) => {
    const refused = await row.locator(".reasons").textContent();
    throw new Error(`Cue ${cue} did not come on standby: ${refused || "no refusal"}`, { cause: error });
  });
}

/** Puts the cue on standby and waits until a GO is possible and has stood long enough to be read. */
export async function ready(page, cue) {
  await standBy(page, cue);
  await says(page, "#standby-ready", /^READY/);
  await page.waitForTimeout(700);
}

export async function middle(page, selector) {
  const box = await page.locator(selector).boundingBox();
  return [box.x + box.width / 2, box.y + box.height / 2];
}

/** A finger on the glass: `touch("touchStart", [x, y])`, then "touchMove", and "touchEnd" or "touchCancel" without a place. */
export async function fingerOn({ context, page }) {
  const glass = await context.newCDPSession(page);
  return (type, at, more = {}) => {
    const touchPoints = at ? [{ x: at[0], y: at[1], radiusX: 5, radiusY: 5, ...more }] : [];
    return glass.send("Input.dispatchTouchEvent", { type, touchPoints });
  };
}

/** Presses the pointer on the element and keeps it down; returns what lets go. */
export async function press(page, selector) {
  await page.mouse.move(...(await middle(page, selector)));
  await page.mouse.down();
  return () => page.mouse.up();
}

/** Presses GO as a person would: again, if the panel says that a busy machine brought the press late. */
export async function pressGo(page) {
  for (let attempt = 0; attempt < 4; attempt += 1) {
    const release = await press(page, "#go");
    await page.waitForTimeout(150);
    if (!/late|old/.test(await page.textContent("#go-reasons"))) return release;
    await release();
  }
  throw new Error("Four presses of GO in a row came late.");
}

/** Where a rig stands on the chart: the middle of its outline, px. */
export async function place(page, rig) {
  const path = await page.getAttribute(`[data-rig="${rig}"] path`, "d");
  const numbers = path.match(/-?[\d.]+/g).map(Number);
  const range = (values) => (Math.min(...values) + Math.max(...values)) / 2;
  return [range(numbers.filter((_, index) => index % 2 === 0)), range(numbers.filter((_, index) => index % 2 === 1))];
}

export function distance([ax, ay], [bx, by]) {
  return Math.hypot(ax - bx, ay - by);
}

export async function moved(page, rig, from, pixels = 3) {
  const until = Date.now() + PATIENCE_MS;
  while (distance(await place(page, rig), from) < pixels) {
    assert.ok(Date.now() < until, `${rig} has not moved ${pixels} px on the chart within ${PATIENCE_MS / 1000} s`);
    await page.waitForTimeout(50);
  }
}

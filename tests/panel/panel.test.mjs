// The panel from end to end: Chromium, a pointer and a keyboard against a daemon (see daemon.mjs for which).

import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import { openBrowser, shot } from "./browser.mjs";
import { daemonUnderTest } from "./daemon.mjs";
import { arm, disarm, distance, moved, open, place, press, pressGo, ready, says } from "./hands.mjs";

let daemon;
let browser;
let page;
let rig;

before(async () => {
  daemon = await daemonUnderTest();
  browser = await openBrowser();
  page = browser.page;
  await open(page, daemon.url);
  const show = await (await fetch(`${daemon.url}/show`)).json();
  rig = show.cues.find((cue) => cue.number === "1").rigs[0];
});

after(async () => {
  await browser?.close();
  await daemon?.end();
});

/** The rig's setpoints as the daemon itself tells them. */
async function setpoints() {
  const status = await (await fetch(`${daemon.url}/status`)).json();
  return Object.values(status.rigs[rig].axes).map((axis) => axis.setpoint);
}

async function reset() {
  await says(page, "#stopped-title", /standing still/);
  await page.click("#reset");
  await page.waitForSelector("#stopped", { state: "hidden" });
}

test("the panel says at once that the rigs are simulated", async () => {
  assert.match(await page.textContent("#simulated"), /SIMULATED/);
  assert.match(await page.textContent("#stop-is"), /not an emergency stop/);
});

test("arming takes two presses", async () => {
  await disarm(page);
  await page.click("#arm-open");
  await page.waitForTimeout(300);
  assert.match(await page.textContent("#arm-open"), /^Disarmed/);
  await page.click("#arm-do");
  await says(page, "#arm-open", /^Armed/);
});

test("cue 1 on standby is ready, and its motion is drawn before it happens", async () => {
  await ready(page, "1");
  await page.waitForSelector(`#plan [data-ghost="${rig}"]`, { state: "attached" });
  assert.ok(await page.isEnabled("#go"));
  await shot(page, "e2e-ready");
});

test("the space bar does nothing, wherever the focus is", async () => {
  for (const focus of ["#go", "#stop", "#hold", "#arm-open", "#tab-log"]) {
    await page.focus(focus).catch(() => {});
    await page.keyboard.press("Space");
  }
  await page.waitForTimeout(400);
  assert.match(await page.textContent("#standby-number"), /^1$/);
  assert.equal(await page.isVisible("#stopped"), false);
  assert.equal(await page.isVisible("#arm-strip"), false);
  assert.equal(await page.getAttribute("#tab-log", "aria-selected"), "false");
});

test("GO acts on the press, and the rig moves on the stage", async () => {
  const from = await place(page, rig);
  const field = () => page.getAttribute(`[data-field='${rig}']`, "d");
  const seen = await field();
  const release = await pressGo(page);
  await says(page, "#order-list [data-cue='1'] .cue-state", /running/);
  await release();
  await moved(page, rig, from);
  assert.match(seen, /^M[-\d. ]+L[-\d. ]+L[-\d. ]+Z$/);
  assert.notEqual(await field(), seen, "what its camera sees goes with it");
  await says(page, "#running-list [data-cue='1'] .running-left", /s left/);
  await shot(page, "e2e-running");
});

test("STOP acts on the press, latches, and says when everything stands still", async () => {
  const release = await press(page, "#stop");
  await page.waitForSelector("#stopped", { state: "visible" });
  await release();
  await says(page, "#stopped-title", /standing still/);
  await says(page, "#stop-says", /Standing still/);
  assert.equal(await page.isDisabled("#go"), true);
  const rest = await place(page, rig);
  await page.waitForTimeout(700);
  assert.ok(distance(await place(page, rig), rest) < 1, `${rig} still moves after standstill was said`);
  await shot(page, "e2e-stopped");
});

test("reset clears the latch and starts nothing", async () => {
  const rest = await setpoints();
  await reset();
  await page.waitForTimeout(700);
  assert.deepEqual(await setpoints(), rest);
});

test("the stopped cue is carried on by a fresh GO, held, and taken back only while its button is held", async () => {
  await ready(page, "1");
  const start = await place(page, rig);
  await (await pressGo(page))();
  const row = "#running-list [data-cue='1']";
  await says(page, `${row} .cue-state`, /running/);
  await moved(page, rig, start, 12);
  await (await press(page, "#hold"))();
  await says(page, `${row} .running-rate`, /at rest/);
  const held = await place(page, rig);
  const release = await press(page, `${row} .hold-to-run`);
  await says(page, `${row} .cue-state`, /returning/);
  await moved(page, rig, held);
  await shot(page, "e2e-returning");
  await release();
  await says(page, `${row} .running-rate`, /at rest/);
  const rest = await setpoints();
  await page.waitForTimeout(700);
  assert.deepEqual(await setpoints(), rest);
});

test("Escape stops", async () => {
  await page.keyboard.press("Escape");
  await page.waitForSelector("#stopped", { state: "visible" });
  await reset();
});

test("a lost link shows within a second and closes everything but STOP", async () => {
  await daemon.lose();
  const lostAt = Date.now();
  await page.waitForSelector("#lost", { state: "visible", timeout: 3000 });
  assert.ok(Date.now() - lostAt < 1500, `it took ${Date.now() - lostAt} ms`);
  assert.match(await page.textContent("#lost-title"), /LINK LOST \d+ s — picture is old/);
  const open = await page.$$eval("button:not(:disabled)", (buttons) => buttons.map((button) => button.id));
  for (const closed of ["go", "hold", "reset", "arm-open", "arm-do", "master-open", "master-set"]) {
    assert.ok(!open.includes(closed), `#${closed} is open on an old picture`);
  }
  assert.ok(open.includes("stop"));
  await says(page, "#lost-title", /LINK LOST [2-9] s/);
  await shot(page, "e2e-lost");
});

test("STOP on a lost link says that it was not reached", async () => {
  await (await press(page, "#stop"))();
  await says(page, "#stop-says", /NOT REACHED/);
});

test("the panel comes back by itself, and starts nothing", async () => {
  await daemon.regain();
  await page.waitForSelector("#lost", { state: "hidden", timeout: 8000 });
  await says(page, "#link", /live/);
  const standing = await setpoints();
  await page.waitForTimeout(700);
  assert.deepEqual(await setpoints(), standing);
  assert.equal(await page.isVisible("#stopped"), false, "a stop that was never delivered came late");
  await arm(page);
  await shot(page, "e2e-back");
  await disarm(page);
});

test("the page asks nobody but the daemon and breaks no rule of its policy", () => {
  const outside = browser.requests.filter((url) => new URL(url).host !== new URL(daemon.url).host);
  assert.deepEqual(outside, []);
  const own = browser.complaints.filter((text) => !/ERR_CONNECTION_REFUSED|ERR_CONNECTION_RESET|ERR_EMPTY_RESPONSE|WebSocket connection to/.test(text));
  assert.deepEqual(own, []);
});

// What the focus of a rig in the panel's hands follows: chosen on its plate, told in words, refused in words. Against the mock, with
// hands of its own laid over it.

import assert from "node:assert/strict";
import { after, afterEach, before, beforeEach, test } from "node:test";
import { openBrowser, shot, SIZES } from "./browser.mjs";
import { arm, open, says } from "./hands.mjs";
import { Mock } from "./mock.mjs";
import { Refused } from "./mock_machine.mjs";

const PLATE = "[data-rig-plate='heron']";

let browser;
let page;
let mock;
let hand;
let refuses;

before(async () => {
  browser = await openBrowser({ touch: true });
  page = browser.page;
});

after(() => browser?.close());

beforeEach(async () => {
  mock = await new Mock().start();
  [hand, refuses] = [null, null];
  const [take, status, script] = ["take", "status", "showJson"].map((name) => mock.machine[name]?.bind(mock.machine));
  assert.ok(take && status && !script);
  mock.machine.take = (method, params) => {
    if (method === "hand") hand = { client: "panel", sticks: "panel", offered: null, let_go: false, near: null, interlock: null, way_out: null, waits: [], focus: null };
    else if (method === "focus" && refuses) throw new Refused(refuses);
    else if (method === "focus") hand.focus = params.on ? { on: params.on, state: "follows", distance: 6.42, offset: 0, off: 0 } : null;
    else return take(method, params);
    return { accepted: true };
  };
  mock.machine.status = (stage) => {
    const now = status(stage);
    if (hand) Object.assign(now.rigs.heron, { hand, owner: "panel" });
    return now;
  };
  await page.setViewportSize(SIZES.landscape);
  await open(page, mock.url);
  await arm(page);
  await page.locator(`${PLATE} .hand-take`).tap();
  await page.waitForSelector(`${PLATE} .hand-focus select`, { state: "visible" });
});

afterEach(() => mock.kill());

const asked = () => mock.calls.filter((call) => call.method === "focus").map(({ params: { rig, on } }) => ({ rig, on }));

test("a focus follows the rig that is chosen, says how far away that is, and nothing once that is chosen", async () => {
  const select = page.locator(`${PLATE} .hand-focus select`);
  assert.deepEqual(await select.locator("option").allTextContents(), ["nothing", "minnow", "millwheel", "tide", "gull", "skiff"]);
  await select.selectOption("skiff");
  await says(page, `${PLATE} .focus-told`, /^Focus follows skiff · 6\.42 m$/);
  assert.deepEqual(asked(), [{ rig: "heron", on: "skiff" }]);
  for (const size of [{ width: 1024, height: 768 }, SIZES.phone]) {
    await page.setViewportSize(size);
    await select.scrollIntoViewIfNeeded();
    const box = await select.boundingBox();
    assert.ok(box.height >= 44 && box.x >= 0 && box.x + box.width <= size.width, "a finger finds it");
    await shot(page, `focus-${size.width}`);
  }
  hand.focus.state = "beyond";
  await says(page, `${PLATE} .focus-told`, /^Out of reach of the focus: skiff/);
  await select.selectOption("");
  await page.waitForSelector(`${PLATE} .focus-told`, { state: "hidden" });
  assert.deepEqual(asked().at(-1), { rig: "heron", on: undefined });
});

test("what somebody else has it follow is shown, a point too, and a refusal is said", async () => {
  const select = page.locator(`${PLATE} .hand-focus select`);
  hand.focus = { on: "the point 1.00, 2.00, 1.50", state: "lags", distance: 4, offset: 0, off: 1 };
  await says(page, `${PLATE} .focus-told`, /^Focus lags behind the point 1\.00, 2\.00, 1\.50 · 4\.00 m$/);
  assert.equal(await select.inputValue(), "");
  hand.focus = { ...hand.focus, on: "gull" };
  await page.waitForFunction((plate) => document.querySelector(`${plate} .hand-focus select`).value === "gull", PLATE);
  refuses = "heron is in hand for a survey";
  await select.selectOption("tide");
  await says(page, `${PLATE} .hand > .reasons`, /in hand for a survey/);
  await page.waitForFunction((plate) => document.querySelector(`${plate} .hand-focus select`).value === "gull", PLATE);
});

test("a rig without a lens has no such choice", async () => {
  assert.equal(await page.locator("[data-rig-plate='gull'] .hand-focus").isHidden(), true);
});

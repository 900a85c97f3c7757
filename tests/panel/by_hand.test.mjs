// A preset of real rigs, which runs only while an operator holds its button. Against the mock, with a way of its own laid
// over it, since the real daemon has no real rigs here.

import assert from "node:assert/strict";
import { after, afterEach, before, beforeEach, test } from "node:test";
import { openBrowser, shot, SIZES } from "./browser.mjs";
import { arm, open, press, says } from "./hands.mjs";
import { Mock } from "./mock.mjs";
import { Refused } from "./mock_machine.mjs";

const HELD_S = 0.6;
const HOLD_TO_RUN = "gull is real, and people may stand on its way: an operator runs the preset by holding its button";

/** Lays a preset to cue 1 over the mock: on standby, then under way, holding from 0.6 s after the last asking. */
class Way {
  constructor(machine) {
    this.machine = machine;
    this.state = "standby";
    this.until = 0;
    this.refuses = null;
    const [take, status] = [machine.take.bind(machine), machine.status.bind(machine)];
    machine.take = (method, params) => (method === "preset" ? this.preset(params) : take(method, params));
    machine.status = (stage) => ({ ...status(stage), ...this.status() });
  }

  preset({ cue, held }) {
    assert.deepEqual([cue, held], ["1", true]);
    if (this.refuses) throw new Refused(this.refuses);
    this.state = "running";
    this.until = this.machine.time + HELD_S;
    return { accepted: true };
  }

  status() {
    if (this.state === "running" && this.machine.time > this.until) this.state = "holding";
    const standby = { cue: "preset", name: "Preset", ready: false, reasons: [HOLD_TO_RUN], returning: false, from: 0, preset: false };
    const running = { cue: "preset", name: "Preset", state: this.state, time: 1, duration: 20, rate: this.state === "running" ? 1 : 0, left: 19 };
    const preset = { cue: "1", by_hand: true, rigs: [{ rig: "gull", from: 0, until: 20 }] };
    return this.state === "standby" ? { standby: [standby], preset } : { standby: [], running: [running], preset };
  }
}

const tokens = { aa: { role: "caller", name: "stage manager" } };

let browser;
let page;
let mock;
let way;

before(async () => {
  browser = await openBrowser({ touch: true });
  page = browser.page;
});

after(() => browser?.close());

beforeEach(async () => {
  await page.setViewportSize(SIZES.landscape);
  mock = await new Mock({ simulated: ["heron"] }).start();
  way = new Way(mock.machine);
  await open(page, mock.url);
});

afterEach(() => mock.kill());

const asked = () => mock.calls.filter((call) => call.method === "preset").length;

test("it is asked for again and again while the button is held, also once the standby is taken", async () => {
  await arm(page);
  await page.waitForSelector("#standby-held", { state: "visible" });
  const before = await page.locator("#standby-held").boundingBox();
  const release = await press(page, "#standby-held");
  await page.waitForTimeout(2000);
  const { x, width } = await page.locator("#standby-held").boundingBox();
  assert.deepEqual([x, width], [before.x, before.width], "it slides from under the thumb");
  assert.ok(asked() >= 8, `${asked()} askings in 2 s`);
  assert.equal(way.state, "running");
  await says(page, "#standby-ready", /while its button is held/);
  await shot(page, "by-hand-running");
  await release();
  const then = asked();
  await page.waitForTimeout(900);
  assert.ok(asked() <= then + 1, "it went on after the release");
  assert.equal(way.state, "holding");
});

test("let go of, it is taken up by its own button and by no resume", async () => {
  await arm(page);
  await (await press(page, "#standby-held"))();
  await says(page, "#running-list [data-cue='preset'] .cue-state", /holding/);
  assert.ok(await page.isHidden("#running-list [data-cue='preset'] .running-controls button:text-matches('Resume')"));
  await shot(page, "by-hand-resting");
  const release = await press(page, "#standby-held");
  await says(page, "#running-list [data-cue='preset'] .cue-state", /running/);
  await release();
});

test("what was refused is not asked for again before another press", async () => {
  await arm(page);
  way.refuses = "the stop is latched";
  const release = await press(page, "#standby-held");
  await says(page, "#go-reasons", /latched/);
  way.refuses = null;
  await page.waitForTimeout(900);
  assert.equal(asked(), 1);
  assert.equal(way.state, "standby");
  await release();
});

test("a caller has no such button", async () => {
  await page.waitForSelector("#standby-held", { state: "visible" });
  mock.tokens = tokens;
  await page.context().addCookies([{ name: "mock", value: "aa", url: mock.url }]);
  await page.reload();
  await says(page, "#standby-name", /where 1 starts/);
  await page.waitForTimeout(300);
  assert.ok(await page.isHidden("#standby-held"));
  await page.context().clearCookies();
});

test("the page broke no rule of its policy", () => {
  assert.deepEqual(browser.complaints, []);
});

// A survey in the panel, by touch: jogged while a button is held, tried, taught, proposed, written, cleared. Against the mock, with a
// survey of its own laid over it, which counts what reaches it; with BELLWIRE_BIN once more against the real daemon.

import assert from "node:assert/strict";
import { cp, mkdtemp, readFile, rm } from "node:fs/promises";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { fileURLToPath } from "node:url";
import { after, afterEach, before, beforeEach, test } from "node:test";
import { openBrowser, shot, SIZES } from "./browser.mjs";
import { daemonOn } from "./daemon.mjs";
import { arm, fingerOn, middle, open, says } from "./hands.mjs";
import { Mock } from "./mock.mjs";
import { Refused } from "./mock_machine.mjs";

/** Rigs that can be surveyed. */
class Surveys {
  constructor(machine) {
    this.hand = null;
    this.taught = null;
    this.surveyed = true;
    this.refuses = null;
    const [take, status] = [machine.take.bind(machine), machine.status.bind(machine)];
    machine.take = (method, params) => this[method]?.(params) ?? take(method, params);
    machine.status = (stage) => this.with(status(stage));
  }

  survey() {
    if (this.refuses) throw new Refused(this.refuses);
    this.hand = { client: "panel", sticks: "panel", offered: null, let_go: false, near: null, interlock: null, waits: [], survey: true, trial: null };
    return { accepted: true };
  }

  give_back() {
    this.hand = null;
    return { accepted: true };
  }

  stick() {
    return { accepted: true };
  }

  run() {
    return { accepted: true };
  }

  trial({ axis, trial }) {
    this.hand.trial = { axis, trial, done: 1, of: 4, runs: true, found: null };
    return { accepted: true };
  }

  teach({ axis, point }) {
    this.taught = { ...this.taught, [axis]: { low: null, high: null, home: null, travel: [-73, 10], why: null, [point]: -74.2 } };
    return { accepted: true, position: -74.2, note: null };
  }

  propose() {
    return { ...RESULT, written: false };
  }

  write_survey() {
    this.taught = null;
    return { ...RESULT, written: true, edit: { hash: "0123456789abcdef" }, errors: [] };
  }

  clear_survey() {
    this.surveyed = false;
    return { ...RESULT, written: true, edit: { hash: "0123456789abcdef" }, errors: [], axes: [{ ...RESULT.axes[0], surveyed: false }] };
  }

  with(status) {
    const heron = status.rigs.heron;
    Object.assign(heron, { taught: this.taught, hand: this.hand, owner: this.hand?.client ?? null });
    const travels = { swing: [-75, 10], boom: [-4, 34], pan: [-170, 170], tilt: [-60, 30], zoom: [0, 100], focus: [0, 100] };
    for (const [name, axis] of Object.entries(heron.axes)) Object.assign(axis, { travel: travels[name], surveyed: name !== "swing" || this.surveyed });
    return status;
  }
}

const RESULT = {
  rig: "heron",
  axes: [{ axis: "heron.swing", unit: "deg", was: [-75, 10], travel: [-73, 10], home: -50, surveyed: true }],
  findings: [{ message: "mark quay-high: swing -74 is outside its travel -73 to 10", file: "rigs/heron.toml", line: 40 }],
  unproved: ["1", "6", "9"],
};

const SHEET = "#survey";
const MORE = `${SHEET} [data-jog='+']`;
const SIGN = `${SHEET} [data-trial='sign']`;

let browser;
let page;
let touch;
let mock;
let surveys;

before(async () => {
  browser = await openBrowser({ touch: true });
  page = browser.page;
  touch = await fingerOn(browser);
});

after(() => browser?.close());

beforeEach(async () => {
  await page.setViewportSize(SIZES.landscape);
  mock = await new Mock().start();
  surveys = new Surveys(mock.machine);
  await open(page, mock.url);
  await arm(page);
});

afterEach(() => mock.kill());

async function openSheet(rig = "heron") {
  await page.locator(`[data-rig-plate='${rig}'] .survey-open`).tap();
  await page.waitForSelector(SHEET, { state: "visible" });
}

/** Holds a button until the panel says so; pressed again where a picture that was too old had it let go of, as on a busy machine. */
async function holdsUntil(button, place, pattern) {
  for (let press = 1; ; press += 1) {
    await touch("touchStart", await middle(page, button));
    const told = await says(page, place, pattern, 8000).catch((error) => error);
    await touch("touchEnd");
    if (!(told instanceof Error)) return;
    if (press === 4) throw told;
  }
}

const said = (method) => mock.calls.filter((call) => call.method === method).map((call) => call.params);

test("an axis goes while its button is held, and zero is said first and last", async () => {
  await openSheet();
  mock.calls.length = 0;
  await touch("touchStart", await middle(page, MORE));
  await page.waitForTimeout(400);
  const held = said("stick");
  assert.ok(held.length >= 6 && held[0].value === 0 && held.slice(1).every(({ axis, value }) => axis === "swing" && value === 1), JSON.stringify(held));
  await shot(page, "survey-jog");
  await touch("touchEnd");
  await page.waitForTimeout(100);
  assert.equal(said("stick").at(-1).value, 0);
  const count = said("stick").length;
  await page.waitForTimeout(300);
  assert.equal(said("stick").length, count, "it went on saying something");
});

test("a finger that slides off, a lost focus, a palm and a press that nobody made drive nothing any more", async () => {
  await openSheet();
  const at = await middle(page, MORE);
  const ends = [
    () => touch("touchMove", [at[0], at[1] + 200]),
    () => page.evaluate(() => dispatchEvent(new Event("blur"))),
    () => touch("touchCancel"),
  ];
  for (const end of ends) {
    await touch("touchStart", at);
    await page.waitForTimeout(200);
    assert.equal(said("stick").at(-1).value, 1);
    await end();
    await page.waitForTimeout(100);
    assert.equal(said("stick").at(-1).value, 0);
    if (end !== ends[2]) await touch("touchEnd");
  }
  mock.calls.length = 0;
  await touch("touchStart", at, { radiusX: 80, radiusY: 80 });
  await page.waitForTimeout(200);
  await touch("touchEnd");
  await page.evaluate((button) => {
    document.querySelector(button).dispatchEvent(new PointerEvent("pointerdown", { bubbles: true, pointerId: 7 }));
  }, MORE);
  await page.waitForTimeout(150);
  assert.deepEqual(said("stick"), []);
});

test("a trial runs while its button is held, and what it found is said", async () => {
  await openSheet();
  await touch("touchStart", await middle(page, SIGN));
  await page.waitForTimeout(700);
  assert.deepEqual(said("trial"), [{ rig: "heron", axis: "swing", trial: "sign" }]);
  assert.equal(said("run")[0].on, false);
  assert.ok(said("run").filter(({ on }) => on).length >= 5, JSON.stringify(said("run")));
  surveys.hand.trial = { ...surveys.hand.trial, done: 4, runs: false, found: { sign: "reversed", text: "heron.swing went −0.200° when it was told to go +0.200°: REVERSED" } };
  await says(page, `${SHEET} .survey-tried`, /REVERSED/);
  assert.match(await page.getAttribute(`${SHEET} .survey-tried`, "class"), /abnormal/);
  await shot(page, "survey-reversed");
  const count = said("run").length;
  await page.waitForTimeout(300);
  assert.equal(said("run").length, count, "what is over is not run any more");
  await touch("touchEnd");
});

test("ends are taught, proposed and written, and what no longer fits is listed", async () => {
  await openSheet();
  await page.locator(`${SHEET} [data-point='low']`).tap();
  await says(page, `${SHEET} [data-survey-axis='swing'] .survey-note`, /lower end −74.2/);
  await page.locator(`${SHEET} .survey-file button`, { hasText: "Propose" }).tap();
  await says(page, `${SHEET} .survey-file`, /Nothing is written yet/);
  await says(page, `${SHEET} .survey-file .reasons`, /outside its travel.*rigs\/heron.toml, line 40/);
  await says(page, `${SHEET} .survey-file`, /To be proved and rehearsed again: cues 1, 6, 9/);
  await shot(page, "survey-proposed");
  await page.locator(`${SHEET} .survey-file button`, { hasText: "Write it" }).tap();
  await says(page, `${SHEET} .survey-file`, /Give the rig back, then take the edit in/);
  await page.locator(`${SHEET} .survey-file button`, { hasText: "Clear its survey" }).tap();
  await says(page, `${SHEET} .survey-clear`, /nothing moves swing but a slow jog/);
  await page.locator(`${SHEET} .survey-clear input`).first().fill("-80");
  await page.locator(`${SHEET} .survey-clear button`, { hasText: "Clear it" }).tap();
  await says(page, `${SHEET} .survey-file .survey-lines`, /NOT surveyed/);
  assert.deepEqual(said("clear_survey"), [{ rig: "heron", axis: "swing", travel: [-80, 10] }]);
  await says(page, `${SHEET} [data-survey-axis='swing'] .survey-none`, /NOT SURVEYED/);
  await page.locator(`${SHEET} .survey-head button`, { hasText: "Give back" }).tap();
  await page.waitForSelector(SHEET, { state: "hidden" });
  assert.equal(surveys.hand, null);
});

test("a rig that is not to be had says why, and one that is gone from the hand drives no more", async () => {
  surveys.refuses = "heron is in the hands of panel kk4x";
  await openSheet();
  await says(page, `${SHEET} > .reasons`, /in the hands of panel kk4x/);
  await page.waitForFunction((button) => document.querySelector(button).disabled, MORE);
  surveys.refuses = null;
  await page.locator(`${SHEET} .survey-head button`, { hasText: "Take it in hand" }).tap();
  await page.waitForFunction((button) => !document.querySelector(button).disabled, MORE);
  await touch("touchStart", await middle(page, MORE));
  await page.waitForTimeout(200);
  surveys.hand = null;
  await page.waitForFunction((button) => document.querySelector(button).disabled, MORE);
  await page.waitForTimeout(100);
  assert.equal(said("stick").at(-1).value, 0);
  await touch("touchEnd");
});

test("a plate says which axes are not surveyed, and what moves them still", async () => {
  const written = mock.machine.show.bind(mock.machine);
  const unmeasured = { heron: ["swing", "boom"], gull: ["height"] };
  mock.machine.show = () => {
    const show = written();
    for (const rig of show.rigs) for (const axis of rig.axes) axis.surveyed = !unmeasured[rig.name]?.includes(axis.name);
    return show;
  };
  await open(page, mock.url);
  const plate = (rig) => `[data-rig-plate='${rig}'] .rig-unsurveyed`;
  for (const [name, size] of [["tablet", { width: 1024, height: 768 }], ["portrait", SIZES.portrait], ["phone", SIZES.phone]]) {
    await page.setViewportSize(size);
    await says(page, plate("heron"), /^NOT SURVEYED: swing and boom\. Nothing moves them but a slow jog/);
    await says(page, plate("gull"), /^NOT SURVEYED: height\. Nothing moves it but/);
    assert.equal(await page.isVisible(plate("skiff")), false, "all of it is surveyed");
    await page.locator(plate("heron")).scrollIntoViewIfNeeded();
    const box = await page.locator(plate("heron")).boundingBox();
    assert.ok(box.x >= 0 && box.x + box.width <= size.width, `${name}: ${JSON.stringify(box)}`);
    for (const rig of ["heron", "gull"]) {
      const marked = await page.$$eval(`[data-rig-plate='${rig}'] [data-axis]`, (rows) => rows.filter((row) => row.dataset.surveyed === "false").map((row) => row.dataset.axis));
      assert.deepEqual(marked, unmeasured[rig], `${name}: the rows themselves`);
    }
    await shot(page, `unsurveyed-${name}`);
  }
});

test("the stop stays where it is, and every button is big enough, on a tablet and on a phone", async () => {
  await openSheet();
  surveys.taught = { swing: { low: -74.2, high: 8.1, home: null, travel: [-69.7, 3.6], why: null } };
  surveys.surveyed = false;
  for (const [name, size] of [["tablet", { width: 1024, height: 768 }], ["portrait", SIZES.portrait], ["phone", SIZES.phone]]) {
    await page.setViewportSize(size);
    await page.waitForTimeout(250);
    await shot(page, `survey-${name}`);
    const stop = await page.locator("#stop").boundingBox();
    const sheet = await page.locator(SHEET).boundingBox();
    assert.ok(sheet.y + sheet.height <= stop.y + 1, `${name}: ${JSON.stringify([sheet, stop])}`);
    const wide = await page.evaluate((selector) => document.querySelector(selector).scrollWidth - document.querySelector(selector).clientWidth, SHEET);
    assert.ok(wide <= 0, `${name}: ${wide} px too wide`);
    for (const button of await page.locator(`${SHEET} button:visible`).all()) {
      const box = await button.boundingBox();
      // The axes lie in a row of their own, which a thumb pushes along.
      const inSight = box.x >= 0 && box.x + box.width <= size.width;
      const ofRow = await button.evaluate((node) => node.classList.contains("survey-axis"));
      assert.ok(box.height >= 48 && (inSight || ofRow), `${name}: ${await button.textContent()} ${JSON.stringify(box)}`);
    }
    await page.locator(MORE).scrollIntoViewIfNeeded();
    await shot(page, `survey-${name}-jog`);
  }
});

test("with the real daemon an axis is jogged, tried and cleared", async () => {
  const folder = await mkdtemp(join(tmpdir(), "bellwire-survey-"));
  await cp(fileURLToPath(new URL("../outside/bench", import.meta.url)), folder, { recursive: true });
  const daemon = await daemonOn(folder);
  try {
    await open(page, daemon.url);
    await arm(page);
    await openSheet("sloop");
    const stands = () => page.evaluate(async () => (await (await fetch("/status")).json()).rigs.sloop.axes.travel.position);
    await touch("touchStart", await middle(page, MORE));
    await page.waitForTimeout(1500);
    await touch("touchEnd");
    await page.waitForTimeout(1000);
    const at = await stands();
    assert.ok(at > 0.05 && at < 0.25, `${at}`);
    await page.waitForTimeout(400);
    assert.ok(Math.abs((await stands()) - at) < 1e-3, "it stands once it is let go of");
    await holdsUntil(SIGN, `${SHEET} .survey-tried`, /command and measurement agree/);
    await page.locator(`${SHEET} .survey-file button`, { hasText: "Clear its survey" }).tap();
    await page.locator(`${SHEET} .survey-clear button`, { hasText: "Clear it" }).tap();
    await says(page, `${SHEET} .survey-file`, /Give the rig back/, 30000);
    assert.match(await readFile(join(folder, "rigs", "sloop.toml"), "utf8"), /surveyed = false/);
    await page.locator(`${SHEET} .survey-head button`, { hasText: "Give back" }).tap();
    await page.waitForSelector("#edit", { state: "visible" });
    await shot(page, "survey-edit");
    await page.locator("#edit-accept").tap();
    await says(page, "#arm-open", /^Disarmed/);
  } finally {
    await daemon.end();
    await rm(folder, { recursive: true, force: true });
  }
});

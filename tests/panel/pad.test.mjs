// A rig in the panel's hands: its pad under a finger, and everything that must end it. Against the mock, with hands of its own
// laid over it, which counts what reaches it; and once on the real daemon, whose rig then stands.

import assert from "node:assert/strict";
import { after, afterEach, before, beforeEach, test } from "node:test";
import { fileURLToPath } from "node:url";
import { openBrowser, shot, SIZES } from "./browser.mjs";
import { daemonOn } from "./daemon.mjs";
import { arm, fingerOn, middle, open, says } from "./hands.mjs";
import { Mock } from "./mock.mjs";
import { Refused } from "./mock_machine.mjs";

/** Rigs that can be taken in hand. */
class Hands {
  constructor(machine) {
    this.machine = machine;
    this.taken = new Map();
    this.refuses = null;
    const [take, status] = [machine.take.bind(machine), machine.status.bind(machine)];
    machine.take = (method, params) => this[method]?.(params) ?? take(method, params);
    machine.status = (stage) => this.with(status(stage));
  }

  hand({ rig }) {
    if (this.refuses) throw new Refused(this.refuses);
    this.taken.set(rig, { client: "panel", sticks: "panel", offered: null, let_go: false, near: null, interlock: null, waits: [] });
    return { accepted: true };
  }

  give_back({ rig }) {
    this.taken.delete(rig);
    return { accepted: true };
  }

  stick() {
    return { accepted: true };
  }

  with(status) {
    for (const [rig, hand] of this.taken) Object.assign(status.rigs[rig], { hand, owner: hand.client });
    return status;
  }
}

const PLATE = "[data-rig-plate='heron']";
const PAD = `${PLATE} .pad`;

let browser;
let page;
let touch;
let mock;
let hands;

before(async () => {
  browser = await openBrowser({ touch: true });
  page = browser.page;
  touch = await fingerOn(browser);
});

after(() => browser?.close());

beforeEach(async () => {
  await page.setViewportSize(SIZES.landscape);
  mock = await new Mock().start();
  hands = new Hands(mock.machine);
  await open(page, mock.url);
  await arm(page);
});

afterEach(() => mock.kill());

async function takeInHand() {
  await page.locator(`${PLATE} .hand-take`).tap();
  await page.waitForSelector(PAD, { state: "visible" });
  await page.locator(PAD).scrollIntoViewIfNeeded();
  mock.calls.length = 0;
}

const sticks = () => mock.calls.filter((call) => call.method === "stick").map((call) => call.params);
const last = (axis) => sticks().filter((stick) => stick.axis === axis).at(-1)?.value;

/** Down on the pad, then so far to the right and up, px. */
async function draw(right, up) {
  const [x, y] = await middle(page, PAD);
  await touch("touchStart", [x - 20, y + 15]);
  await touch("touchMove", [x - 20 + right, y + 15 - up]);
  await page.waitForTimeout(150);
}

async function isZero(after) {
  await page.waitForTimeout(after);
  assert.deepEqual([last("swing"), last("boom")], [0, 0]);
  const said = sticks().length;
  await page.waitForTimeout(250);
  assert.equal(sticks().length, said, "it went on saying something");
}

test("where the finger comes down is zero, and as far as it is drawn it drives, again and again", async () => {
  await takeInHand();
  const [x, y] = await middle(page, PAD);
  await touch("touchStart", [x + 60, y - 40]);
  await page.waitForTimeout(120);
  assert.ok(sticks().length >= 4 && sticks().every((stick) => stick.value === 0), JSON.stringify(sticks()));
  await touch("touchMove", [x + 60 - 45, y - 40 - 9]);
  await page.waitForTimeout(200);
  assert.ok(Math.abs(last("swing") + 0.5) < 0.02 && Math.abs(last("boom") - 0.1) < 0.02, JSON.stringify(sticks().slice(-2)));
  assert.ok(sticks().length >= 10, `${sticks().length} in a third of a second`);
  await shot(page, "pad-landscape");
  await touch("touchMove", [x + 400, y]);
  await page.waitForTimeout(100);
  assert.equal(last("swing"), 1);
  await touch("touchEnd");
  await isZero(60);
});

test("a finger that is taken away, a lost focus and a hidden page are zero at once", async () => {
  await takeInHand();
  const ends = [
    () => touch("touchCancel"),
    () => page.evaluate(() => dispatchEvent(new Event("blur"))),
    () =>
      page.evaluate(() => {
        Object.defineProperty(document, "visibilityState", { value: "hidden", configurable: true });
        document.dispatchEvent(new Event("visibilitychange"));
        delete document.visibilityState;
        document.dispatchEvent(new Event("visibilitychange"));
      }),
  ];
  for (const end of ends) {
    await draw(90, 0);
    assert.ok(last("swing") > 0.9);
    await end();
    await isZero(60);
    if (end !== ends[0]) await touch("touchEnd");
  }
});

test("a palm and a press that nobody made drive nothing", async () => {
  await takeInHand();
  const [x, y] = await middle(page, PAD);
  await touch("touchStart", [x, y], { radiusX: 80, radiusY: 80 });
  await touch("touchMove", [x + 60, y], { radiusX: 80, radiusY: 80 });
  await page.waitForTimeout(150);
  await touch("touchEnd");
  await page.evaluate((pad) => {
    const down = new PointerEvent("pointerdown", { bubbles: true, pointerId: 7, clientX: 10, clientY: 10 });
    document.querySelector(pad).dispatchEvent(down);
  }, PAD);
  await page.waitForTimeout(150);
  assert.deepEqual(sticks(), []);
});

test("a rig that is gone from this hand takes its pad along, and a finger on it drives no more", async () => {
  await takeInHand();
  await draw(60, 0);
  hands.taken.delete("heron");
  await page.waitForSelector(PAD, { state: "hidden" });
  await isZero(60);
  await touch("touchEnd");
});

test("other axes can be put under the finger, and it is given back", async () => {
  await takeInHand();
  await page.locator(`${PLATE} .hand-held > .hand-axis select`).first().selectOption("pan");
  await page.locator(`${PLATE} .hand-held > .hand-axis select`).last().selectOption("");
  await draw(90, 50);
  assert.ok(last("pan") > 0.9 && sticks().every((stick) => stick.axis === "pan"));
  await touch("touchEnd");
  await page.locator(`${PLATE} .hand-back`).tap();
  await page.waitForSelector(`${PLATE} .hand-take`, { state: "visible" });
  assert.equal(hands.taken.size, 0);
  await says(page, `${PLATE} .rig-owner`, /^owner nobody$/);
});

test("what keeps it is said, and why it is not to be had", async () => {
  hands.refuses = "heron is in the hands of panel kk4x";
  await page.locator(`${PLATE} .hand-take`).tap();
  await says(page, `${PLATE} .hand > .reasons`, /in the hands of panel kk4x/);
  hands.refuses = null;
  await takeInHand();
  await says(page, `${PLATE} .rig-owner`, /^owner this panel$/);
  hands.taken.get("heron").near = { bodies: ["heron/swing/0", "gull/height/0"], distance: 0.314, margin: 0.3 };
  await says(page, `${PLATE} .hand-held .reasons`, /In the way: heron\/swing\/0 and gull\/height\/0, 0.31 m apart/);
  await shot(page, "pad-kept");
  const { near } = hands.taken.get("heron");
  hands.taken.set("heron", { client: "rail", sticks: "osc 10.0.0.7", offered: "panel 8kd2", let_go: false, near, interlock: "net", way_out: "push it up", waits: [] });
  await page.waitForSelector(PAD, { state: "hidden" });
  await says(page, `${PLATE} .rig-owner`, /^owner rail$/);
  await says(page, `${PLATE} .rig-hand`, /^In hand, driven by the sticks of osc 10\.0\.0\.7\. Offered to panel 8kd2, who has not taken it over yet\.$/);
  await says(page, `${PLATE} .hand-blocks`, /^In the way: heron\/swing\/0 and gull\/height\/0, 0\.31 m apart\.Kept by the interlock “net”\.Push it up\.$/);
  hands.taken.delete("heron");
  await says(page, `${PLATE} .rig-owner`, /^owner nobody$/);
  await takeInHand();
  for (const size of ["portrait", "phone"]) {
    await page.setViewportSize(SIZES[size]);
    await page.locator(PAD).scrollIntoViewIfNeeded();
    await shot(page, `pad-${size}`);
    const box = await page.locator(PAD).boundingBox();
    assert.ok(box.width >= 180 && box.x >= 0 && box.x + box.width <= SIZES[size].width, JSON.stringify(box));
  }
});

test("with the real daemon it moves as far as it is drawn, and stands once let go of or once the focus is lost", async () => {
  const daemon = await daemonOn(fileURLToPath(new URL("../outside/bench", import.meta.url)));
  const [plate, pad] = ["[data-rig-plate='sloop']", "[data-rig-plate='sloop'] .pad"];
  const axis = () => page.evaluate(async () => (await (await fetch("/status")).json()).rigs.sloop.axes.travel);
  /** Of the slider, m/s, a second after it was drawn so far, px. */
  const speed = async (right) => {
    const [x, y] = await middle(page, pad);
    await touch("touchStart", [x, y]);
    await page.waitForTimeout(150);
    await touch("touchMove", [x + right, y]);
    await page.waitForTimeout(1200);
    return (await axis()).speed;
  };
  const stands = async () => {
    await page.waitForTimeout(1500);
    const { position, speed } = await axis();
    assert.ok(Math.abs(speed) < 1e-3, `${speed} m/s`);
    await page.waitForTimeout(300);
    assert.ok(Math.abs((await axis()).position - position) < 2e-3, "it creeps");
  };
  try {
    await open(page, daemon.url);
    await page.locator(`${plate} .hand-take`).tap();
    await page.waitForSelector(pad, { state: "visible" });
    await page.locator(pad).scrollIntoViewIfNeeded();
    const half = await speed(45);
    assert.ok(half > 0.2 && half < 0.6, `${half} m/s of 1, drawn half way`);
    await touch("touchEnd");
    await stands();
    const full = await speed(90);
    assert.ok(full > 0.8, `${full} m/s of 1, drawn as far as it goes`);
    await page.evaluate(() => dispatchEvent(new Event("blur")));
    await stands();
    await touch("touchEnd");
    await page.locator(`${plate} .hand-back`).tap();
    await says(page, `${plate} .rig-owner`, /^owner nobody$/);
  } finally {
    await daemon.end();
  }
});

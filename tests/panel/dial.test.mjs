// Dials of a rig in the panel's hands: pick-up, hold-to-run, fingers and arrow keys, and everything that must let go. Against the
// mock, with hands of its own laid over it, which counts what reaches it.

import assert from "node:assert/strict";
import { after, afterEach, before, beforeEach, test } from "node:test";
import { openBrowser, shot, SIZES } from "./browser.mjs";
import { arm, fingerOn, open, says } from "./hands.mjs";
import { Mock } from "./mock.mjs";

/** The rig in hand stands where the test puts its first axis, of 1. */
class Hands {
  constructor(machine) {
    this.taken = new Map();
    this.stands = 0.5;
    const [take, status] = [machine.take.bind(machine), machine.status.bind(machine)];
    machine.take = (method, params) => this[method]?.(params) ?? take(method, params);
    machine.status = (stage) => this.with(status(stage));
    this.show = machine.show();
  }

  hand({ rig }) {
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

  dial() {
    return { accepted: true };
  }

  let_go() {
    return { accepted: true };
  }

  with(status) {
    for (const [rig, hand] of this.taken) {
      Object.assign(status.rigs[rig], { hand, owner: hand.client });
      const { name, travel } = this.show.rigs.find((one) => one.name === rig).axes[0];
      status.rigs[rig].axes[name].position = travel[0] + this.stands * (travel[1] - travel[0]);
    }
    return status;
  }
}

const PLATE = "[data-rig-plate='heron']";
const ROW = `${PLATE} [data-dial='swing']`;

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
  await page.locator(`${PLATE} .hand-take`).tap();
  await page.locator(`${PLATE} .dials summary`).tap();
  await page.waitForSelector(ROW, { state: "visible" });
  await page.locator(ROW).scrollIntoViewIfNeeded();
  await page.waitForTimeout(200);
  mock.calls.length = 0;
});

afterEach(() => mock.kill());

/** A place on the lane, of 1. */
async function on(part) {
  const box = await page.locator(`${ROW} .dial-lane`).boundingBox();
  return [box.x + part * box.width, box.y + box.height / 2];
}

const dials = () => mock.calls.filter((call) => call.method === "dial").map((call) => call.params);
const letGo = () => mock.calls.filter((call) => call.method === "let_go").map((call) => call.params);
const near = (value, wanted) => assert.ok(Math.abs(value - wanted) < 0.02, `${value} is not ${wanted}`);
const is = (name) => page.locator(ROW).evaluate((row, name) => row.classList.contains(name), name);

/** Soon, however busy the machine is. */
async function comes(holds, what) {
  for (let waited = 0; waited < 5000; waited += 20) {
    if (await holds()) return;
    await page.waitForTimeout(20);
  }
  assert.fail(what);
}

test("a dial waits until it has passed where its axis stands, shows the way, and then drives", async () => {
  await touch("touchStart", await on(0.2));
  await comes(() => dials().length >= 4, "it says where it is, again and again");
  dials().forEach((dial) => near(dial.value, 0.2));
  assert.deepEqual([await is("waits"), await is("picked")], [true, false]);
  await says(page, `${ROW} .dial-way`, /draw right/);
  await shot(page, "dial-waits");
  await touch("touchMove", await on(0.4));
  await page.waitForTimeout(100);
  assert.equal(await is("picked"), false, "not there yet");
  await touch("touchMove", await on(0.6));
  await comes(() => is("picked"), "it has passed by");
  await says(page, `${ROW} .dial-way`, /drives/);
  await shot(page, "dial-drives");
  near(dials().at(-1).value, 0.6);
  assert.deepEqual(letGo(), []);
  await touch("touchEnd");
  await comes(() => letGo().length > 0, "it is let go of");
  assert.deepEqual(letGo(), [{ rig: "heron", axis: "swing" }]);
  const said = dials().length;
  await page.waitForTimeout(250);
  assert.equal(dials().length, said, "it went on saying something");
  // Taken again it has to be picked up anew, from the other side.
  await touch("touchStart", await on(0.8));
  await page.waitForTimeout(100);
  await says(page, `${ROW} .dial-way`, /draw left/);
  await touch("touchEnd");
});

test("a finger that is taken away, a lost focus and a hidden page let go at once", async () => {
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
    () => hands.taken.delete("heron"),
  ];
  for (const end of ends) {
    mock.calls.length = 0;
    await touch("touchStart", await on(0.5));
    await comes(() => is("picked"), "at where the axis stands it is picked up");
    await end();
    await comes(() => letGo().length > 0, "it is let go of");
    assert.equal(letGo().length, 1);
    const said = dials().length;
    await page.waitForTimeout(200);
    assert.equal(dials().length, said);
    if (end !== ends[0]) await touch("touchEnd");
  }
});

test("a palm drives nothing, nor does a press that nobody made", async () => {
  await touch("touchStart", await on(0.5), { radiusX: 80, radiusY: 80 });
  await page.waitForTimeout(150);
  await touch("touchEnd");
  await page.evaluate((dial) => {
    document.querySelector(dial).dispatchEvent(new PointerEvent("pointerdown", { bubbles: true, pointerId: 7, clientX: 10, clientY: 10 }));
    document.querySelector(dial).dispatchEvent(new KeyboardEvent("keydown", { bubbles: true, key: "ArrowRight" }));
  }, `${ROW} .dial`);
  await page.waitForTimeout(150);
  assert.deepEqual(dials(), []);
});

test("an arrow key turns it from where the axis stands as long as it is held", async () => {
  await page.locator(`${ROW} .dial`).focus();
  await page.keyboard.down("ArrowRight");
  await page.waitForTimeout(600);
  near(dials()[0].value, 0.5);
  assert.equal(await is("picked"), true);
  assert.ok(dials().at(-1).value > 0.53 && dials().at(-1).value < 0.6, JSON.stringify(dials().at(-1)));
  await page.keyboard.up("ArrowRight");
  await page.waitForTimeout(100);
  assert.deepEqual(letGo(), [{ rig: "heron", axis: "swing" }]);
  await page.keyboard.down("PageDown");
  await page.waitForTimeout(600);
  assert.ok(dials().at(-1).value < 0.4, JSON.stringify(dials().at(-1)));
  await page.locator(`${ROW} .dial`).evaluate((dial) => dial.blur());
  await page.waitForTimeout(100);
  assert.equal(letGo().length, 2);
  await page.keyboard.up("PageDown");
});

test("dials fit a phone and a tablet held upright, and say what they are", async () => {
  for (const size of ["portrait", "phone"]) {
    await page.setViewportSize(SIZES[size]);
    await page.locator(ROW).scrollIntoViewIfNeeded();
    await touch("touchStart", await on(0.3));
    await page.waitForTimeout(150);
    await shot(page, `dial-${size}`);
    await touch("touchEnd");
    const box = await page.locator(`${ROW} .dial`).boundingBox();
    assert.ok(box.width >= 180 && box.height >= 48 && box.x >= 0 && box.x + box.width <= SIZES[size].width, JSON.stringify(box));
  }
  const said = await page.locator(`${ROW} .dial`).evaluate((dial) => [dial.getAttribute("role"), dial.getAttribute("aria-label"), Number(dial.getAttribute("aria-valuenow"))]);
  assert.deepEqual(said.slice(0, 2), ["slider", "Dial of swing: it drives while it is held"]);
  assert.ok(Number.isFinite(said[2]));
});

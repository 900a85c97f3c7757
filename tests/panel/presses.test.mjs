// What must hold of every press, whatever the hand, the glass and the network do. Against the mock, which counts what
// reaches it and can be told to refuse, to fall silent and to lie in its texts.

import assert from "node:assert/strict";
import { after, afterEach, before, beforeEach, test } from "node:test";
import { openBrowser, SIZES } from "./browser.mjs";
import { arm, middle, open, press, pressGo, ready, says, standBy } from "./hands.mjs";
import { Mock } from "./mock.mjs";

let browser;
let page;
let mock;

before(async () => {
  browser = await openBrowser({ touch: true });
  page = browser.page;
});

after(() => browser?.close());

beforeEach(async () => {
  await page.setViewportSize(SIZES.landscape);
  mock = await new Mock().start();
  await open(page, mock.url);
  await arm(page);
  mock.calls.length = 0;
});

afterEach(() => mock.kill());

const calls = (method) => mock.calls.filter((call) => call.method === method);

test("two quick presses of GO are one GO, and it names its cue", async () => {
  await ready(page, "1");
  await (await press(page, "#go"))();
  await (await press(page, "#go"))();
  await page.waitForTimeout(300);
  assert.deepEqual(calls("go").map((call) => call.params.cue), ["1"]);
});

test("a press that begins elsewhere and ends on GO fires nothing", async () => {
  await ready(page, "1");
  await page.mouse.move(...(await middle(page, "#standby")));
  await page.mouse.down();
  await page.mouse.move(...(await middle(page, "#go")));
  await page.mouse.up();
  await page.waitForTimeout(200);
  assert.equal(calls("go").length, 0);
});

test("the Enter key and a click without a press fire nothing", async () => {
  await ready(page, "1");
  await page.focus("#go");
  await page.keyboard.press("Enter");
  await page.evaluate(() => document.getElementById("go").click());
  await page.evaluate(() => document.getElementById("go").dispatchEvent(new PointerEvent("pointerdown", { bubbles: true })));
  await page.waitForTimeout(200);
  assert.equal(calls("go").length, 0);
});

test("the space bar neither presses nor scrolls", async () => {
  await page.setViewportSize({ width: 1180, height: 620 });
  await ready(page, "1");
  const list = page.locator("#order-list");
  const before = await list.evaluate((node) => node.scrollTop);
  assert.ok(await list.evaluate((node) => node.scrollHeight > node.clientHeight + 50));
  for (const focus of ["#order-list", "#go", "#hold", "#stop", "#master-open"]) {
    await page.locator(focus).evaluate((node) => node.focus());
    await page.keyboard.press("Space");
  }
  await page.waitForTimeout(400);
  assert.equal(await list.evaluate((node) => node.scrollTop), before);
  assert.equal(await page.isVisible("#master-strip"), false);
  assert.deepEqual(mock.calls.filter((call) => call.method !== "standby"), []);
});

test("GO refuses while something else lies on the glass, and says so", async () => {
  await ready(page, "1");
  const session = await browser.context.newCDPSession(page);
  const point = ([x, y], id) => ({ x, y, id, radiusX: 12, radiusY: 12 });
  const sleeve = point(await middle(page, "#chart"), 1);
  const finger = point(await middle(page, "#go"), 2);
  const touch = (type, touchPoints) => session.send("Input.dispatchTouchEvent", { type, touchPoints });
  await touch("touchStart", [sleeve]);
  await touch("touchStart", [sleeve, finger]);
  await touch("touchEnd", []);
  await says(page, "#go-reasons", /else touches the glass/);
  assert.equal(calls("go").length, 0);
  await touch("touchStart", [finger]);
  await touch("touchEnd", []);
  await says(page, "#order-list [data-cue='1'] .cue-state", /running/);
});

test("GO refuses a palm", async () => {
  await ready(page, "1");
  const session = await browser.context.newCDPSession(page);
  const [x, y] = await middle(page, "#go");
  await session.send("Input.dispatchTouchEvent", { type: "touchStart", touchPoints: [{ x, y, radiusX: 80, radiusY: 60 }] });
  await session.send("Input.dispatchTouchEvent", { type: "touchEnd", touchPoints: [] });
  await says(page, "#go-reasons", /wider than a fingertip/);
  assert.equal(calls("go").length, 0);
});

test("GO waits until a new standby can have been read", async () => {
  await ready(page, "1");
  const at = await middle(page, "#go");
  await page.mouse.move(...at);
  mock.machine.take("standby", { cues: ["3"], skip: true });
  await says(page, "#standby-number", /^3$/);
  await page.mouse.down();
  await page.mouse.up();
  await says(page, "#go-reasons", /only just changed/);
  assert.equal(calls("go").length, 0);
});

test("GO is not sent into a stalled link", async () => {
  await ready(page, "1");
  await page.evaluate(() => Object.defineProperty(WebSocket.prototype, "bufferedAmount", { configurable: true, get: () => 64 }));
  await page.waitForTimeout(600);
  await (await press(page, "#go"))();
  await says(page, "#go-reasons", /stalled: nothing was sent/);
  assert.equal(calls("go").length, 0);
});

test("every reason of a standby that is not ready is shown, and GO is closed", async () => {
  await standBy(page, "9");
  await says(page, "#standby-ready", /NOT READY, 2 reasons/);
  const reasons = await page.$$eval("#standby-reasons li", (items) => items.map((item) => item.textContent));
  assert.equal(reasons.length, 2);
  assert.match(reasons[0], /needs cue 8 done/);
  assert.equal(await page.isDisabled("#go"), true);
});

test("a skip is acknowledged by a press of its own", async () => {
  await standBy(page, "3");
  await page.click("#standby-skip");
  await says(page, "#standby-ready", /^READY/);
  assert.deepEqual(calls("standby").map((call) => call.params.skip ?? false), [false, true]);
});

test("a refusal stands beside the control that caused it, and in the log", async () => {
  mock.refuse.set("master", ["the master belongs to the front of house"]);
  await page.click("#master-open");
  await page.click("#master-less");
  await page.click("#master-set");
  await says(page, "#master-reasons", /front of house/);
  await page.click("#tab-log");
  await says(page, "#log-list", /front of house/);
  assert.equal(calls("master")[0].params.value, 0.95);
});

test("reset lists why it was refused", async () => {
  await page.keyboard.press("Escape");
  await says(page, "#stopped-title", /standing still/);
  mock.machine.faults.gull = "gull: no report within 0.2 s: check its link and power";
  await page.click("#reset");
  await says(page, "#reset-reasons", /Reset refused: gull/);
  assert.ok(await page.isVisible("#stopped"));
});

test("return runs only while its button is held", async () => {
  await ready(page, "1");
  await (await pressGo(page))();
  await page.waitForTimeout(1500);
  await page.click("#hold");
  await says(page, "#running-list [data-cue='1'] .cue-state", /holding/);
  await says(page, "#running-list [data-cue='1'] .running-rate", /at rest/);
  const release = await press(page, "#running-list [data-cue='1'] .hold-to-run");
  await page.waitForTimeout(900);
  const held = calls("return").length;
  assert.ok(held >= 4 && held <= 7, `${held} repeats in 0.9 s`);
  assert.ok(calls("return").every((call) => call.params.held === true && call.params.cue === "1"));
  await release();
  await page.waitForTimeout(500);
  assert.ok(calls("return").length <= held + 1, "it went on after the release");
});

test("return ends when the window loses the focus", async () => {
  await ready(page, "1");
  await (await pressGo(page))();
  await page.waitForTimeout(1200);
  await page.click("#hold");
  await says(page, "#running-list [data-cue='1'] .running-rate", /at rest/);
  const release = await press(page, "#running-list [data-cue='1'] .hold-to-run");
  await page.waitForTimeout(300);
  await page.evaluate(() => dispatchEvent(new Event("blur")));
  await page.waitForTimeout(250);
  const then = calls("return").length;
  await page.waitForTimeout(500);
  await release();
  assert.equal(calls("return").length, then);
});

test("STOP goes over both roads", async () => {
  await (await press(page, "#stop"))();
  await page.waitForSelector("#stopped", { state: "visible" });
  assert.ok(calls("stop").length >= 1);
  assert.ok(mock.stops.length >= 1);
});

test("STOP still reaches a daemon whose socket is gone", async () => {
  for (const socket of mock.clients.keys()) socket.terminate();
  mock.sockets.removeAllListeners("connection");
  mock.sockets.on("connection", (socket) => socket.terminate());
  await page.waitForSelector("#lost", { state: "visible" });
  await (await press(page, "#stop"))();
  await says(page, "#stop-says", /Taken/);
  assert.ok(mock.machine.stopped);
});

test("STOP keeps its place and its size through every state, at each size of glass", async () => {
  for (const [name, size] of Object.entries(SIZES)) {
    await page.setViewportSize(size);
    const where = () => page.locator("#stop").boundingBox();
    const at = await where();
    assert.ok(at.x < 20 && at.y + at.height > size.height - 60, `${name}: not at the lower left`);
    assert.ok(at.width >= 130 && at.height >= 80, `${name}: too small`);
    const same = async (state) => {
      assert.deepEqual(await where(), at, `${name}, ${state}`);
      const [x, y] = [at.x + at.width / 2, at.y + at.height / 2];
      const top = await page.evaluate(([px, py]) => document.elementFromPoint(px, py).id, [x, y]);
      assert.equal(top, "stop", `${name}, ${state}: something lies over STOP`);
      assert.ok(await page.isEnabled("#stop"), `${name}, ${state}`);
      const wide = await page.evaluate(() => document.documentElement.scrollWidth);
      assert.ok(wide <= size.width, `${name}, ${state}: the page is ${wide} px wide`);
    };
    await page.click("#arm-open");
    await same("arm asked");
    await page.click("#arm-leave");
    await page.click("#cautions-open");
    await same("cautions");
    await page.click("#cautions-close");
    await standBy(page, "9");
    await same("not ready");
    await page.keyboard.press("Escape");
    await says(page, "#stopped-title", /standing still/);
    await same("stopped");
    await page.click("#reset");
    await page.waitForSelector("#stopped", { state: "hidden" });
    mock.frozen = true;
    await page.waitForSelector("#lost", { state: "visible" });
    await same("lost");
    mock.frozen = false;
    await page.waitForSelector("#lost", { state: "hidden" });
  }
});

test("every button can be hit with a thumb", async () => {
  for (const [name, size] of Object.entries(SIZES)) {
    await page.setViewportSize(size);
    await page.click("#master-open");
    const small = await page.$$eval("button", (buttons) =>
      buttons
        .map((button) => ({ id: button.id || button.textContent, box: button.getBoundingClientRect() }))
        .filter(({ box }) => box.width > 0 && (box.width < 48 || box.height < 48))
        .map(({ id, box }) => `${id} ${box.width}×${box.height}`),
    );
    await page.click("#master-leave");
    assert.deepEqual(small, [], name);
  }
});

test("a panel that comes back asks for nothing but the picture", async () => {
  await ready(page, "1");
  await mock.kill();
  await page.waitForSelector("#lost", { state: "visible" });
  await (await press(page, "#stop"))();
  await says(page, "#stop-says", /NOT REACHED/);
  await mock.start();
  mock.calls.length = 0;
  mock.stops.length = 0;
  await page.waitForSelector("#lost", { state: "hidden" });
  await page.waitForTimeout(600);
  assert.deepEqual(mock.calls, []);
  assert.deepEqual(mock.stops, []);
});

test("a hidden panel lets its lease go, says so, and comes back when it is seen", async () => {
  const turn = (state) =>
    page.evaluate((now) => {
      Object.defineProperty(document, "visibilityState", { configurable: true, get: () => now });
      document.dispatchEvent(new Event("visibilitychange"));
    }, state);
  const title = await page.title();
  await turn("hidden");
  await page.waitForFunction(() => document.title.startsWith("ASLEEP"));
  await says(page, "#lost-text", /let its lease go/);
  assert.equal(mock.clients.size, 0);
  await turn("visible");
  await page.waitForSelector("#lost", { state: "hidden" });
  assert.equal(await page.title(), title);
});

test("hold acts on the press, and resume on the release", async () => {
  await ready(page, "1");
  await (await pressGo(page))();
  await says(page, "#order-list [data-cue='1'] .cue-state", /running/);
  const holding = await press(page, "#hold");
  await says(page, "#hold", /Resume all/);
  await holding();
  await page.waitForTimeout(300);
  assert.equal(calls("resume").length, 0);
  const resuming = await press(page, "#hold");
  await page.waitForTimeout(200);
  assert.equal(calls("resume").length, 0);
  await resuming();
  await says(page, "#order-list [data-cue='1'] .cue-state", /running/);
  assert.equal(calls("hold").length, 1);
  assert.equal(calls("resume").length, 1);
});

test("another show on the same address is read anew", async () => {
  mock.machine.hash = "another";
  const original = mock.machine.show.bind(mock.machine);
  mock.machine.show = () => ({ ...original(), show: "Salt Lantern, matinée" });
  await says(page, "#show-name", /matinée/);
});

test("markup in a show's texts stays text", async () => {
  const original = mock.machine.show.bind(mock.machine);
  mock.machine.hash = "hostile";
  mock.machine.show = () => {
    const show = original();
    show.show = "<img src=x onerror=alert(1)>";
    show.cues[0].name = "<b>bold</b>";
    return show;
  };
  await says(page, "#show-name", /^<img src=x/);
  await says(page, "#order-list [data-cue='1'] .cue-name", /^<b>bold<\/b>$/);
  assert.equal(await page.locator("#order-list b, h1 img").count(), 0);
});

test("a list that a hand has just scrolled is left alone", async () => {
  await page.setViewportSize({ width: 1180, height: 620 });
  await standBy(page, "1");
  const list = page.locator("#order-list");
  const box = await list.boundingBox();
  await page.mouse.move(box.x + 100, box.y + 60);
  await page.mouse.wheel(0, 2000);
  await page.waitForTimeout(300);
  const scrolled = await list.evaluate((node) => node.scrollTop);
  assert.ok(scrolled > 50);
  mock.machine.take("standby", { cues: ["3"], skip: true });
  await says(page, "#standby-number", /^3$/);
  await page.waitForTimeout(500);
  assert.equal(await list.evaluate((node) => node.scrollTop), scrolled);
  await page.click("#order-place");
  await page.waitForTimeout(700);
  assert.ok((await list.evaluate((node) => node.scrollTop)) < scrolled);
});

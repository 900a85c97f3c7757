// A rig handed from one panel to another, on the real daemon: two browsers, each an operator with a name of its own. Whoever
// looks sees who has it, whose sticks drive it, what is offered to whom and what blocks it; and one finger at a time drives it.

import assert from "node:assert/strict";
import { once } from "node:events";
import { cp, mkdtemp, rm } from "node:fs/promises";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { fileURLToPath } from "node:url";
import { after, afterEach, before, test } from "node:test";
import { WebSocket } from "ws";
import { openBrowser, shot, SIZES } from "./browser.mjs";
import { daemonOn } from "./daemon.mjs";
import { fingerOn, middle, open, pressGo, ready, says } from "./hands.mjs";

const BENCH = fileURLToPath(new URL("../outside/bench", import.meta.url));
const PLATE = "[data-rig-plate='sloop']";
const PAD = `${PLATE} .pad`;
/** An offer that nobody takes over lapses. */
const LAPSES_MS = 30_000;

let folder;
let daemon;
let rail;
let prompt;

/** A panel of its own: a browser, its finger, and what it is called. */
async function panel(size) {
  const browser = await openBrowser({ touch: true, size });
  await open(browser.page, daemon.url);
  const told = await says(browser.page, "#role", /^panel \w+: operator/);
  return { ...browser, touch: await fingerOn(browser), name: /^(panel \w+)/.exec(told)[1] };
}

before(async () => {
  folder = await mkdtemp(join(tmpdir(), "bellwire-hand-over-"));
  await cp(BENCH, folder, { recursive: true });
  daemon = await daemonOn(folder);
  rail = await panel("landscape");
  prompt = await panel("phone");
});

after(async () => {
  await rail?.close();
  await prompt?.close();
  await daemon?.end();
  if (folder) await rm(folder, { recursive: true, force: true });
});

/** The next test finds the rig in nobody's hands. */
afterEach(async () => {
  for (const { page, touch } of [rail, prompt]) {
    await touch("touchCancel").catch(() => {});
    if (await page.isVisible(`${PLATE} .hand-back`)) await page.locator(`${PLATE} .hand-back`).tap();
  }
  await says(rail.page, `${PLATE} .rig-owner`, /^owner nobody$/);
  await says(prompt.page, `${PLATE} .rig-owner`, /^owner nobody$/);
});

const status = async () => (await fetch(`${daemon.url}/status`)).json();
const stands = async () => (await status()).rigs.sloop.axes.travel.position;
const say = (who, part, pattern, patience) => says(who.page, `${PLATE} ${part}`, pattern, patience);
const tap = async (who, part) => {
  const target = who.page.locator(`${PLATE} ${part}`);
  await target.scrollIntoViewIfNeeded();
  await target.tap();
};

async function take(who) {
  await tap(who, ".hand-take");
  await who.page.waitForSelector(PAD, { state: "visible" });
}

async function offer(from, to) {
  await from.page.locator(`${PLATE} .hand-over select`).selectOption(to.name);
  await tap(from, ".hand-offer");
}

/** Down on the pad and so far to the right, px; gives how far the rig has gone after a second, m. */
async function driven(who, right) {
  await who.page.locator(PAD).scrollIntoViewIfNeeded();
  const [x, y] = await middle(who.page, PAD);
  const from = await stands();
  await who.touch("touchStart", [x, y]);
  await who.page.waitForTimeout(150);
  await who.touch("touchMove", [x + right, y]);
  await who.page.waitForTimeout(1000);
  return (await stands()) - from;
}

async function atRest() {
  const until = Date.now() + 4000;
  while (Math.abs((await status()).rigs.sloop.axes.travel.speed) > 1e-3) {
    assert.ok(Date.now() < until, "it does not come to rest");
    await new Promise((resolve) => setTimeout(resolve, 50));
  }
}

test("a rig that a cue moves says so, and what to do", async () => {
  await ready(rail.page, "1");
  await (await pressGo(rail.page))();
  await say(prompt, ".rig-owner", /^owner cue 1$/);
  await say(prompt, ".hand-why", /^Cue 1 moves it\. Take it in hand once that is done or stopped\.$/);
  assert.equal(await prompt.page.isEnabled(`${PLATE} .hand-take`), false);
  await shot(prompt.page, "hand-over-cue-phone");
});

test("offered, taken over, and the first one's finger is dead", async () => {
  await say(prompt, ".rig-owner", /^owner nobody$/);
  await take(rail);
  await say(rail, ".rig-owner", /^owner this panel$/);
  await say(prompt, ".rig-owner", new RegExp(`^owner ${rail.name}$`));
  await say(prompt, ".rig-hand", /^In hand, driven by its owner’s own sticks\.$/);
  assert.equal(await prompt.page.isEnabled(`${PLATE} .hand-take`), false);
  await say(prompt, ".hand-why", new RegExp(`^Ask ${rail.name} to hand it over to ${prompt.name}, which is this panel, or to give it back\\.$`));
  await prompt.page.locator(`${PLATE} .hand-why`).scrollIntoViewIfNeeded();
  await shot(prompt.page, "hand-over-other-phone");
  await prompt.page.locator("#tab-log").tap();
  await offer(rail, prompt);
  await say(rail, ".hand-over .hand-note >> visible=true", new RegExp(`^Offered to ${prompt.name}\\.`));
  await rail.page.locator(`${PLATE} .hand-offer-back`).scrollIntoViewIfNeeded();
  await shot(rail.page, "hand-over-offered-tablet");
  await says(prompt.page, "#offers", new RegExp(`^${rail.name} offers sloop to this panel\\.`));
  await shot(prompt.page, "hand-over-offer-phone");
  assert.ok((await driven(rail, 90)) > 0.1, "whoever offers it drives it until it is taken over");
  await prompt.page.locator("#offers button").tap();
  await say(prompt, ".rig-owner", /^owner this panel$/);
  await prompt.page.waitForSelector(PAD, { state: "visible" });
  await shot(prompt.page, "hand-over-taken-phone");
  await say(rail, ".rig-owner", new RegExp(`^owner ${prompt.name}$`));
  await rail.page.waitForSelector(PAD, { state: "hidden" });
  await shot(rail.page, "hand-over-gone-tablet");
  // The finger is still down and drawn where the pad was.
  await atRest();
  const left = await stands();
  await rail.page.waitForTimeout(500);
  assert.ok(Math.abs((await stands()) - left) < 2e-3, "the first one's finger drives on");
  await rail.touch("touchEnd");
  assert.ok((await driven(prompt, -90)) < -0.1, "the one who has it drives it");
  await prompt.touch("touchEnd");
  await atRest();
});

test("an offer is taken back, and one that nobody takes over lapses", async () => {
  await take(rail);
  await offer(rail, prompt);
  await prompt.page.waitForSelector("#offers", { state: "visible" });
  await tap(rail, ".hand-offer-back");
  await prompt.page.waitForSelector("#offers", { state: "hidden" });
  await rail.page.waitForSelector(`${PLATE} .hand-offer`, { state: "visible" });
  assert.equal(await rail.page.isVisible(`${PLATE} .hand-over-all > .hand-note`), false, "what is taken back has not lapsed");
  await offer(rail, prompt);
  const since = Date.now();
  await prompt.page.waitForSelector("#offers", { state: "visible" });
  await say(rail, ".hand-over-all > .hand-note", new RegExp(`^${prompt.name} has not taken it over: the offer has lapsed\\.$`), LAPSES_MS + 5000);
  assert.ok(Date.now() - since > LAPSES_MS - 2000, `after ${Date.now() - since} ms`);
  await prompt.page.waitForSelector("#offers", { state: "hidden" });
  await say(prompt, ".hand-why", /^Ask panel/);
  await say(rail, ".rig-owner", /^owner this panel$/);
});

test("whose sticks drive it and what blocks it is seen by everybody", async () => {
  const call = await rpcOf("foreman");
  try {
    await call("hand", { rig: "sloop", sticks: prompt.name });
    await say(rail, ".rig-owner", /^owner foreman$/);
    await say(rail, ".rig-hand", new RegExp(`^In hand, driven by the sticks of ${prompt.name}\\.$`));
    await say(prompt, ".rig-hand", /^In hand, driven by the sticks of this panel\.$/);
    await call("hand_over", { rig: "sloop", to: rail.name });
    await say(prompt, ".rig-hand", new RegExp(`Offered to ${rail.name}, who has not taken it over yet\\.$`));
    await tap(rail, ".hand-accept");
    await say(prompt, ".rig-owner", new RegExp(`^owner ${rail.name}$`));
  } finally {
    call.close();
  }
  await rail.page.waitForSelector(PAD, { state: "visible" });
  await driven(rail, -90);
  await say(rail, ".hand-held .reasons", /^Kept by the interlock “gate for the wagon”\./);
  await say(prompt, ".hand-blocks", /^Kept by the interlock “gate for the wagon”\./);
  await prompt.page.locator(`${PLATE} .hand-blocks`).scrollIntoViewIfNeeded();
  await shot(prompt.page, "hand-over-kept-phone");
  await rail.touch("touchEnd");
  await atRest();
});

test("it fits a phone and a tablet", async () => {
  await take(prompt);
  for (const [size, { width }] of Object.entries(SIZES)) {
    await prompt.page.setViewportSize(SIZES[size]);
    for (const part of [".hand-over select", ".hand-offer", ".hand-back"]) {
      const target = prompt.page.locator(`${PLATE} ${part}`);
      await target.scrollIntoViewIfNeeded();
      const box = await target.boundingBox();
      assert.ok(box.height >= 48 && box.x >= 0 && box.x + box.width <= width, `${part} at ${size}: ${JSON.stringify(box)}`);
    }
    await shot(prompt.page, `hand-over-mine-${size}`);
  }
});

test("the pages broke no rule of their policy", () => {
  assert.deepEqual([...rail.complaints, ...prompt.complaints], []);
});

/** A program that asks over the WebSocket, under a name. */
async function rpcOf(name) {
  const socket = new WebSocket(`${daemon.url.replace("http", "ws")}/rpc?name=${name}`);
  await once(socket, "open");
  const call = async (method, params) => {
    socket.send(JSON.stringify({ jsonrpc: "2.0", id: method, method, params }));
    const [answer] = await once(socket, "message");
    assert.equal(JSON.parse(answer).error, undefined, String(answer));
  };
  return Object.assign(call, { close: () => socket.close() });
}

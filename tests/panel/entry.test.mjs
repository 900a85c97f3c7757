// Being let in, shut out, and let in for less. Against the mock, whose list of tokens is made here.

import assert from "node:assert/strict";
import { after, afterEach, before, test } from "node:test";
import { openBrowser, shot } from "./browser.mjs";
import { open, press, says, standBy } from "./hands.mjs";
import { Mock } from "./mock.mjs";

const TOKEN = "0123456789abcdef".repeat(4);
const OTHER = "f".repeat(64);

let browser;
let page;
let mock;

before(async () => {
  browser = await openBrowser({ touch: true });
  page = browser.page;
});

after(() => browser?.close());
afterEach(async () => {
  await browser.context.clearCookies();
  await mock.kill();
});

const start = async (role) => {
  mock = await new Mock({ tokens: { [TOKEN]: { role, name: "prompt tablet" } } }).start();
};

test("a panel without a token says what to do, and stops all the same", async () => {
  await start("operator");
  await page.goto(mock.url);
  await says(page, "#entry-title", /not let in/);
  await page.waitForSelector("#entry", { state: "visible" });
  await shot(page, "entry");
  assert.equal(await page.isVisible("#go"), false);
  await (await press(page, "#stop"))();
  await says(page, "#stop-says", /Taken/);
  assert.ok(mock.stops.length > 0);
  assert.deepEqual(mock.calls.filter((call) => call.method !== "stop"), [], "nothing else was asked");
});

test("the code's address lets it in, and keeps no token", async () => {
  await start("operator");
  await open(page, `${mock.url}/#token=${TOKEN}`);
  assert.equal(await page.isVisible("#entry"), false);
  assert.equal(await page.evaluate(() => location.href), `${mock.url}/`);
  assert.equal(await page.evaluate(() => document.cookie), "", "no script reads the cookie");
  await says(page, "#role", /prompt tablet: operator/);
  await open(page, mock.url);
  assert.equal(await page.isVisible("#entry"), false, "still let in after a reload");
});

test("a typed token lets it in, a mistyped one says why not", async () => {
  await start("caller");
  await page.goto(mock.url);
  await page.waitForSelector("#entry", { state: "visible" });
  await page.fill("#entry-token", "123");
  await page.click("#entry-enter");
  await says(page, "#entry-reasons", /64 characters.*this has 3/);
  await page.fill("#entry-token", OTHER);
  await page.click("#entry-enter");
  await says(page, "#entry-reasons", /lets nobody in/);
  await page.fill("#entry-token", ` ${TOKEN} `);
  await page.keyboard.press("Enter");
  await page.waitForSelector("#entry", { state: "hidden" });
});

test("a token that is revoked shuts the panel out, and the stop stays", async () => {
  await start("operator");
  await open(page, `${mock.url}/#token=${TOKEN}`);
  mock.revoke(TOKEN);
  await page.waitForSelector("#entry", { state: "visible" });
  await page.keyboard.press("Escape");
  await says(page, "#stop-says", /Taken/);
  assert.ok(mock.stops.length > 0);
});

test("a caller fires, and neither arms nor resets", async () => {
  await start("caller");
  await open(page, `${mock.url}/#token=${TOKEN}`);
  await says(page, "#role", /caller · an operator arms/);
  assert.equal(await page.isEnabled("#arm-open"), false);
  assert.equal(await page.isEnabled("#master-open"), false);
  mock.machine.take("arm", {});
  await standBy(page, "1");
  await page.waitForFunction(() => !document.getElementById("go").disabled);
  mock.machine.take("stop", {});
  await page.waitForSelector("#stopped", { state: "visible" });
  assert.equal(await page.isEnabled("#reset"), false);
  await says(page, "#reset-reasons", /operator resets/);
});

test("an observer sees all and has nothing to press but the stop", async () => {
  await start("observer");
  mock.machine.take("arm", {});
  mock.machine.take("standby", { cues: ["1"] });
  await open(page, `${mock.url}/#token=${TOKEN}`);
  await says(page, "#role", /observer · watches/);
  await says(page, "#standby-ready", /READY/);
  await shot(page, "observer");
  for (const control of ["#go", "#hold", "#master-open"]) assert.equal(await page.isVisible(control), false, control);
  assert.equal(await page.isEnabled("#arm-open"), false);
  await (await press(page, "#stop"))();
  await says(page, "#stop-says", /Taken/);
  assert.deepEqual(new Set(mock.calls.map((call) => call.method)), new Set(["stop"]));
});

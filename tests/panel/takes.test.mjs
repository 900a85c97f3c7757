// Takes in the panel: recorded by a rig in its hands, kept, looked at, trimmed and played back. Against the program itself on a
// small show of its own; BELLWIRE_BIN says where it is.

import assert from "node:assert/strict";
import { mkdir, mkdtemp, readdir, readFile, rm, writeFile } from "node:fs/promises";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { after, before, test } from "node:test";
import { openBrowser, shot, SIZES } from "./browser.mjs";
import { daemonOn } from "./daemon.mjs";
import { fingerOn, open, pressGo, says } from "./hands.mjs";

const SHOW = '[show]\nname = "Two sliders"\nmargin = 0.3\nreact = 0.15\n';
const CUES = '[[cue]]\nnumber = "1"\nname = "Heron away"\nmove = [{ rig = "heron", to = { travel = 1.0 }, time = 6.0 }]\n';
const slider = (y) => `kind = "slider"
at = [0.0, ${y}, 0.0]
[[axis]]
name = "travel"
unit = "m"
travel = [0.0, 3.0]
start = 0.0
speed = 0.4
acceleration = 0.4
jerk = 1.5
joint = { slide = "x", at = [0.0, 0.0, 0.35] }
bodies = [{ sphere = { at = [0.0, 0.0, 0.4], radius = 0.35 } }]
`;

let browser;
let page;
let touch;
let daemon;
let folder;

/** Minnow along by so much from its start, half a second of rest at both ends, with the least jerk. */
function walk(way, seconds, head = "") {
  const lines = [`${head}time,minnow.travel`];
  for (let k = 0; k <= (seconds + 1) * 50; k += 1) {
    const x = Math.min(Math.max((k * 0.02 - 0.5) / seconds, 0), 1);
    lines.push(`${(k * 0.02).toFixed(3)},${(way * x ** 3 * (10 - 15 * x + 6 * x * x)).toFixed(6)}`);
  }
  return `${lines.join("\n")}\n`;
}

before(async () => {
  folder = await mkdtemp(join(tmpdir(), "bellwire-takes-"));
  for (const name of ["rigs", "cues", "takes"]) await mkdir(join(folder, name));
  await writeFile(join(folder, "show.toml"), SHOW);
  await writeFile(join(folder, "cues", "all.toml"), CUES);
  await writeFile(join(folder, "rigs", "minnow.toml"), slider("0.0"));
  await writeFile(join(folder, "rigs", "heron.toml"), slider("3.0"));
  await writeFile(join(folder, "takes", "brisk.csv"), walk(1.2, 4.8));
  const survey = '#: axes."minnow.travel" = { unit = "m", travel = [0.2, 3.2], joint = { slide = "x", at = [0.0, 0.0, 0.35] } }\n';
  await writeFile(join(folder, "takes", "older.csv"), walk(0.5, 6, survey));
  daemon = await daemonOn(folder);
  browser = await openBrowser({ touch: true });
  page = browser.page;
  touch = await fingerOn(browser);
  await page.setViewportSize(SIZES.landscape);
  await open(page, daemon.url);
  await says(page, "#arm-open", /^Armed/);
});

after(async () => {
  await browser?.close();
  await daemon?.end();
  if (folder) await rm(folder, { recursive: true, force: true });
});

const tap = (selector) => page.locator(selector).tap();
const press = (name) => page.locator("#takes").getByRole("button", { name, exact: true }).tap();
const status = async () => (await fetch(`${daemon.url}/status`)).json();

async function until(what, check, patience = 20000) {
  const end = Date.now() + patience;
  while (!(await check())) {
    assert.ok(Date.now() < end, `not ${what} within ${patience / 1000} s`);
    await page.waitForTimeout(100);
  }
}

test("a take is recorded by a dial in hand, and kept under a name", async () => {
  await tap("#tab-takes");
  await says(page, ".deck-state", /Record a take/);
  await page.locator(".deck-rig", { hasText: "minnow" }).tap();
  await page.fill(".deck-name input", "by-hand");
  await shot(page, "takes-idle");
  await press("Prime");
  await says(page, ".deck-state", /Primed/);
  await says(page, ".deck-says", /minnow: begins with the first motion/);
  await tap("#tab-rigs");
  const plate = "[data-rig-plate='minnow']";
  await tap(`${plate} .hand-take`);
  await tap(`${plate} .dials summary`);
  await page.locator(`${plate} [data-dial='travel']`).scrollIntoViewIfNeeded();
  const lane = await page.locator(`${plate} [data-dial='travel'] .dial-lane`).boundingBox();
  const at = (part) => [lane.x + part * lane.width, lane.y + lane.height / 2];
  await touch("touchStart", at(0.02));
  for (let part = 0.02; part >= 0; part -= 0.005) await touch("touchMove", at(part));
  for (let part = 0; part <= 0.3; part += 0.01) {
    await touch("touchMove", at(part));
    await page.waitForTimeout(60);
  }
  await until("recording", async () => (await status()).take.state === "recording");
  await says(page, "#tab-takes", /^● \d/);
  await page.waitForTimeout(2500);
  await touch("touchEnd");
  await tap("#tab-takes");
  await says(page, ".deck-state", /Recording/);
  await says(page, ".deck-time", /^0:0[2-9]\.\d$/);
  await shot(page, "takes-recording");
  await page.waitForTimeout(800);
  await press("Stop recording");
  await says(page, ".deck-state", /Keep it/);
  assert.equal(await page.inputValue(".deck-name input"), "by-hand");
  await shot(page, "takes-keep");
  await press("Keep");
  await says(page, "[data-take-name='by-hand'] .take-facts", /of minnow/);
  await says(page, "[data-take-name='by-hand'] .take-survey", /Surveyed as now/);
  await says(page, ".deck .cue-lines", /\[\[cue\.move\]\]\s+rig = "minnow"\s+take = "by-hand"/);
  const lines = (await readFile(join(folder, "takes", "by-hand.csv"), "utf8")).split("\n");
  assert.match(lines[0], /^#: recorded = /);
  await tap("#tab-rigs");
  await tap(`${plate} .hand-held > button`);
  await page.waitForSelector(`${plate} .hand-take`, { state: "visible" });
  await tap("#tab-takes");
});

test("what is kept tells its survey; what breaks a limit is drawn there, with its least stretch", async () => {
  await says(page, "[data-take-name='older'] .take-survey", /another survey/);
  await says(page, "[data-take-name='older'] .reasons", /minnow\.travel: its travel was 0\.2 m to 3\.2 m and is 0 m to 3 m/);
  await page.locator("[data-take-name='brisk']").getByRole("button", { name: "Look" }).tap();
  // 1.2 m in 4.8 s by the least jerk: 1.875·D/T = 0.469 m/s of 0.4 (Flash and Hogan, 1985).
  await says(page, ".sight-facts", /It breaks limits as recorded: least stretch 1\.17\d, for the speed of minnow\.travel, 2\.9 s into it/);
  const over = await page.locator(".asks-over").getAttribute("d");
  assert.ok(over.length > 20, "nothing is drawn over the limit");
  assert.ok(await page.locator(".sight .sight-controls button", { hasText: /^Play back$/ }).isDisabled());
  await page.locator(".sight").scrollIntoViewIfNeeded();
  await shot(page, "takes-sight");
  // Drawn with a finger.
  const handle = page.getByRole("slider", { name: "Beginning" });
  await handle.scrollIntoViewIfNeeded();
  const box = await handle.boundingBox();
  const lane = await page.locator(".sight-handles").boundingBox();
  await touch("touchStart", [box.x + box.width / 2, box.y + 20]);
  await touch("touchMove", [lane.x + 0.25 * lane.width, box.y + 20]);
  await touch("touchMove", [lane.x + 0.5 * lane.width, box.y + 20]);
  await touch("touchEnd");
  await says(page, ".sight-facts", /What is left lasts 2\.9 s/);
  // And with the arrow keys.
  await handle.focus();
  await page.keyboard.press("PageUp");
  await says(page, ".sight-facts", /What is left lasts 1\.9 s/);
  await shot(page, "takes-trim");
  await page.fill(".sight-trim input", "tail");
  await press("Write the trimmed take");
  await says(page, "[data-take-name='tail'] .take-facts", /of minnow/);
  assert.ok((await readdir(join(folder, "takes"))).includes("tail.csv"));
});

test("a take is played back at once: preset to its first pose, on standby, GO", async () => {
  await page.locator("[data-take-name='brisk']").getByRole("button", { name: "Look" }).tap();
  await page.locator(".sight-controls button", { hasText: /stretched to 1\.1/ }).tap();
  await says(page, "#standby-number", /^take$/);
  await says(page, "#standby-name", /Take brisk, stretched to 1\.1/);
  await says(page, "#standby-ready", /^NOT READY/);
  await says(page, "#standby-reasons", /minnow\.travel/);
  await page.waitForSelector("#standby-preset", { state: "visible" });
  await says(page, "#standby-preset", /Preset the rigs for the take/);
  await shot(page, "takes-elsewhere");
  await tap("#standby-preset");
  await says(page, "#standby-name", /The way to where the take starts/);
  await says(page, "#standby-ready", /^READY/);
  await page.waitForTimeout(700);
  await (await pressGo(page))();
  await until("there", async () => {
    const { running, standby } = await status();
    return running.length === 0 && standby.length === 0;
  }, 60000);
  await page.waitForTimeout(500);
  await page.locator(".sight-controls button", { hasText: /stretched to 1\.1/ }).tap();
  await says(page, "#standby-ready", /^READY/);
  await shot(page, "takes-ready");
  await page.waitForTimeout(700);
  await (await pressGo(page))();
  await says(page, "#running-list", /Take brisk/);
  await shot(page, "takes-playing");
  await until("at its end", async () => (await status()).rigs.minnow.axes.travel.setpoint > 1.19, 20000);
});

test("a take that was stopped on its way is put on standby from there and carried on by a GO", async () => {
  const brisk = page.locator(".sight-controls button", { hasText: /stretched to 1\.1/ });
  const travel = async () => (await status()).rigs.minnow.axes.travel.setpoint;
  await until("done", async () => (await status()).running.length === 0);
  await page.waitForTimeout(500);
  await brisk.tap();
  await page.waitForSelector("#standby-preset", { state: "visible" });
  await tap("#standby-preset");
  await says(page, "#standby-ready", /^READY/);
  await page.waitForTimeout(700);
  await (await pressGo(page))();
  await until("at its start", async () => (await status()).running.length === 0 && (await travel()) < 1e-3, 60000);
  await page.waitForTimeout(500);
  await brisk.tap();
  await says(page, "#standby-ready", /^READY/);
  await page.waitForTimeout(700);
  await (await pressGo(page))();
  await until("half-way", async () => (await travel()) > 0.4);
  await tap("#stop");
  await says(page, "#stopped-title", /standing still/);
  const rests = await travel();
  assert.ok(rests < 1.0, `${rests}`);
  const row = "#running-list [data-cue='take']";
  await says(page, row, /Take brisk/);
  await says(page, `${row} .cue-state`, /stopped/);
  await shot(page, "takes-stopped");
  await tap("#reset");
  await page.waitForSelector("#stopped", { state: "hidden" });
  await shot(page, "takes-to-carry-on");
  await page.locator(row).getByRole("button", { name: "Standby from here", exact: true }).tap();
  await says(page, "#standby-name", /Take brisk, stretched to 1\.1\d*, from \d+\.\d s on/);
  await says(page, "#standby-ready", /^READY/);
  assert.equal(await travel(), rests, "a standby moves nothing");
  await page.waitForTimeout(700);
  await (await pressGo(page))();
  await until("at its end", async () => (await travel()) > 1.19, 20000);
});

test("the sheet fits a phone and a tablet held upright", async () => {
  for (const size of ["portrait", "phone"]) {
    await page.setViewportSize(SIZES[size]);
    await page.locator(".deck").scrollIntoViewIfNeeded();
    await page.waitForTimeout(300);
    await shot(page, `takes-${size}`);
    await page.locator(".sight").scrollIntoViewIfNeeded();
    await shot(page, `takes-sight-${size}`);
    const wide = await page.evaluate(() => [...document.querySelectorAll("#takes *")].filter((node) => {
      const box = node.getBoundingClientRect();
      const scrolls = node.closest("pre, svg, details:not([open])");
      return !scrolls && box.width > 0 && box.right > innerWidth + 1;
    }).map((node) => node.className));
    assert.deepEqual(wide, []);
  }
});

test("an unfinished take of a run that was killed is offered, and discarded only when asked twice", async () => {
  await page.setViewportSize(SIZES.landscape);
  // What still moves would begin the recording by itself.
  await until("at rest", async () => (await status()).running.length === 0, 30000);
  await page.waitForTimeout(1000);
  await page.locator(".deck-rig", { hasText: "heron" }).tap();
  await press("Prime");
  await press("Record now");
  await until("half a second of it", async () => (await status()).take.elapsed > 0.6);
  await page.waitForTimeout(300);
  await daemon.lose();
  await daemon.regain();
  await says(page, ".deck-state", /An unfinished take/, 15000);
  await says(page, ".deck-says", /was recording heron and minnow|was recording minnow and heron|was recording heron/);
  await shot(page, "takes-unfinished");
  await press("Discard");
  await page.waitForTimeout(300);
  assert.equal((await status()).take.state, "stopped", "the first press asks");
  await press("Discard for good");
  await says(page, ".deck-state", /Record a take/);
});

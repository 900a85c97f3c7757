// The ways back and on, against the real daemon: the list placed, the rigs preset, an edited show taken in.

import assert from "node:assert/strict";
import { execFile } from "node:child_process";
import { cp, mkdtemp, readFile, rm, writeFile } from "node:fs/promises";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { after, before, test } from "node:test";
import { fileURLToPath } from "node:url";
import { promisify } from "node:util";
import { openBrowser, shot } from "./browser.mjs";
import { daemonOn } from "./daemon.mjs";
import { open, pressGo, says, standBy } from "./hands.mjs";

const run = promisify(execFile);
const BENCH = fileURLToPath(new URL("../outside/bench", import.meta.url));

let folder;
let daemon;
let browser;
let page;

before(async () => {
  folder = await mkdtemp(join(tmpdir(), "bellwire-ways-"));
  await cp(BENCH, folder, { recursive: true });
  // A cue goes past rigs that it leaves alone and is proved clear of: 2 moves the sloop besides, so it needs her in place.
  const act = join(folder, "cues", "act.toml");
  const sloop = '\n\n  [[cue.move]]\n  rig = "sloop"\n  to = { travel = 1.9 }\n  time = 3.0\n';
  await writeFile(act, (await readFile(act, "utf8")).replace(/(height = 3\.5 \}\n\s*time = 3\.0)\n/, `$1${sloop}`));
  daemon = await daemonOn(folder, "--watch");
  browser = await openBrowser();
  page = browser.page;
  await open(page, daemon.url);
  await says(page, "#arm-open", /^Armed/);
});

after(async () => {
  await browser?.close();
  await daemon?.end();
  if (folder) await rm(folder, { recursive: true, force: true });
});

async function status() {
  return (await fetch(`${daemon.url}/status`)).json();
}

test("after a restart the list goes on from the cue that is chosen", async () => {
  await standBy(page, "2");
  await page.waitForSelector("#standby-place", { state: "visible" });
  await shot(page, "ways-place");
  await page.click("#standby-place");
  await says(page, "#standby-number", /^2$/);
  await page.waitForFunction(() => document.querySelector("#order-list [data-cue='1']").dataset.state === "done");
  await page.waitForSelector("#standby-place", { state: "hidden" });
});

test("where the rigs stand elsewhere, a preset is offered, shown rig by rig, and taken by GO", async () => {
  await page.waitForSelector("#standby-preset", { state: "visible" });
  assert.match(await page.textContent("#standby-preset"), /for 2$/);
  await page.click("#standby-preset");
  await says(page, "#standby-name", /where 2 starts/);
  await says(page, "#standby-ready", /^READY/);
  assert.match(await page.textContent("#standby-moves"), /sloop from 0\.0 s/);
  await page.waitForTimeout(700);
  await shot(page, "ways-preset");
  const release = await pressGo(page);
  await release();
  await says(page, "[data-cue='preset'] .running-name", /where 2 starts/);
  await page.click("#hold");
  await says(page, "[data-cue='preset'] .running-rate", /at rest/);
  assert.ok(await page.isHidden("[data-cue='preset'] .hold-to-run"), "a preset has no way back of its own");
  await shot(page, "ways-held");
  await page.click("#hold");
  await page.waitForSelector("[data-cue='preset']", { state: "detached", timeout: 30000 });
  const { position } = (await status()).rigs.sloop.axes.travel;
  assert.ok(Math.abs(position - 1.5) < 0.02, `the sloop stands at ${position}`);
  await standBy(page, "2");
  await says(page, "#standby-ready", /^READY/);
});

test("an edit of the files is shown with its changes, and comes into force by a press", async () => {
  const act = join(folder, "cues", "act.toml");
  await writeFile(act, (await readFile(act, "utf8")).replace('name = "Sloop out"', 'name = "Sloop far out"'));
  await page.waitForSelector("#edit", { state: "visible" });
  assert.match(await page.textContent("#edit-changes"), /Sloop out is now called Sloop far out/);
  assert.match(await page.textContent("#order-list [data-cue='1']"), /Sloop out/);
  await shot(page, "ways-edit");
  await page.click("#edit-accept");
  await page.waitForSelector("#edit", { state: "hidden" });
  await says(page, "#order-list [data-cue='1']", /Sloop far out/);
  assert.equal((await status()).standby.length, 0, "what stood on standby was of the old show");
});

test("a rig that is made to fail is shown so, until that is ended", async () => {
  const fault = (...words) => run(process.env.BELLWIRE_BIN, ["fault", ...words, "--to", new URL(daemon.url).host]);
  await fault("pike", "stuck", "--axis", "zoom");
  await says(page, "[data-rig-plate='pike'] .rig-injected", /made to fail: stuck of zoom/);
  assert.ok(await page.isHidden("[data-rig-plate='sloop'] .rig-injected"));
  await shot(page, "ways-injected");
  await fault("pike", "stuck", "--axis", "zoom", "--off");
  await page.waitForSelector("[data-rig-plate='pike'] .rig-injected", { state: "hidden" });
});

test("the page broke no rule of its policy", () => {
  assert.deepEqual(browser.complaints, []);
});

// The page of a check, as a phone and as paper show it: nothing to scroll sideways, no words over others, no figure
// that a sheet cuts. BELLWIRE_BIN says where the program is.

import assert from "node:assert/strict";
import { execFileSync } from "node:child_process";
import { cp, mkdtemp, rm } from "node:fs/promises";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { fileURLToPath, pathToFileURL } from "node:url";
import { after, before, test } from "node:test";
import { openBrowser, shot, SIZES } from "./browser.mjs";
import { program } from "./daemon.mjs";

const DEMO = fileURLToPath(new URL("../../demo-show", import.meta.url));
const SHOWS = ["clean", "lamp-too-soon", "lamp-with-heron", "wagon-over-the-hole", "short-of-the-turn"];

let browser, folder;

before(async () => {
  folder = await mkdtemp(join(tmpdir(), "bellwire-pages-"));
  for (const show of SHOWS) {
    await cp(DEMO, join(folder, show), { recursive: true });
    if (show !== "clean") await cp(join(DEMO, "traps", show), join(folder, show), { recursive: true });
    const check = ["check", join(folder, show), "--report", join(folder, `${show}.html`)];
    try {
      execFileSync(program(), check, { stdio: "ignore", env: { ...process.env, XDG_CACHE_HOME: folder } });
    } catch (error) {
      if (error.status !== 1) throw error;
    }
  }
  browser = await openBrowser({ size: "phone" });
});

after(async () => {
  await browser?.close();
  if (folder) await rm(folder, { recursive: true, force: true });
});

/** Pairs of words in one drawing, or on one lane, that stand in each other. */
const collisions = () => {
  const found = [];
  for (const drawing of document.querySelectorAll("svg.stage, svg.map, .lane, .marks")) {
    const words = [...drawing.querySelectorAll("text, b, span")].map((word) => [word.textContent, word.getBoundingClientRect()]);
    words.forEach(([one, a], at) => {
      for (const [other, b] of words.slice(at + 1)) {
        // A line of type is a little higher than its letters.
        const over = a.left < b.right - 1 && b.left < a.right - 1 && a.top + 3 < b.bottom && b.top + 3 < a.bottom;
        if (over) found.push(`${one} | ${other}`);
      }
    });
  }
  return found;
};

for (const show of SHOWS) {
  test(`the page of ${show} fits a phone and a sheet of paper`, async () => {
    const { page, complaints, requests } = browser;
    const url = pathToFileURL(join(folder, `${show}.html`)).href;
    for (const [size, width] of [["phone", SIZES.phone.width], ["paper", 794]]) {
      await page.setViewportSize({ width, height: 1000 });
      await page.goto(url);
      const wide = await page.evaluate(() => [document.documentElement.scrollWidth, innerWidth]);
      assert.ok(wide[0] <= wide[1], `${size}: ${wide[0]} px wide in ${wide[1]}`);
      assert.deepEqual(await page.evaluate(collisions), [], size);
      await shot(page, `check-${show}-${size}`);
    }
    assert.deepEqual(complaints, []);
    assert.deepEqual(requests.filter((address) => !address.startsWith("file:")), []);
    const drawn = await page.locator("svg.stage").count();
    assert.equal(drawn >= 2, !["clean", "short-of-the-turn"].includes(show), `${drawn} drawings`);
    await page.emulateMedia({ media: "print" });
    const loose = await page.evaluate(() =>
      [...document.querySelectorAll("figure, .ruler, tbody.cue")].filter((part) => getComputedStyle(part).breakInside !== "avoid").length);
    assert.equal(loose, 0, "parts that a sheet may cut");
    await page.emulateMedia({ media: null });
  });
}

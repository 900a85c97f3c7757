// Chromium for the tests, and the pictures that they leave behind.

import { mkdir, mkdtemp, rm } from "node:fs/promises";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { chromium } from "playwright-core";

export const SIZES = {
  landscape: { width: 1180, height: 820 },
  portrait: { width: 820, height: 1180 },
  phone: { width: 390, height: 844 },
};

const ARGUMENTS = [
  "--headless",
  "--no-sandbox",
  "--disable-gpu",
  "--disable-quic",
  "--no-first-run",
  "--disable-background-networking",
  "--disable-component-update",
  "--disable-sync",
];

/** A browser with a profile of its own that is thrown away; `close` ends both. */
export async function openBrowser({ size = "landscape", touch = false } = {}) {
  const profile = await mkdtemp(join(tmpdir(), "bellwire-panel-"));
  const context = await chromium.launchPersistentContext(profile, {
    executablePath: process.env.BELLWIRE_CHROMIUM ?? "/usr/bin/chromium",
    args: ARGUMENTS,
    viewport: SIZES[size],
    hasTouch: touch,
  });
  const page = context.pages()[0] ?? (await context.newPage());
  const complaints = [];
  page.on("console", (message) => message.type() === "error" && complaints.push(message.text()));
  page.on("pageerror", (error) => complaints.push(String(error)));
  const strangers = [];
  page.on("request", (request) => strangers.push(request.url()));
  const close = async () => {
    await context.close();
    await rm(profile, { recursive: true, force: true });
  };
  return { context, page, complaints, requests: strangers, close };
}

/** Leaves a picture in the folder that BELLWIRE_SHOTS names, if it names one. */
export async function shot(page, name) {
  const folder = process.env.BELLWIRE_SHOTS;
  if (!folder) return;
  await mkdir(folder, { recursive: true });
  await page.screenshot({ path: join(folder, `${name}.png`) });
}

// Pictures of the panel in its main states at the three sizes, for people to look at.
// By hand: BELLWIRE_SHOTS=shots node looks.mjs

import { openBrowser, shot, SIZES } from "./browser.mjs";
import { Mock } from "./mock.mjs";

process.env.BELLWIRE_SHOTS ??= "shots";
const wait = (page, milliseconds) => page.waitForTimeout(milliseconds);

for (const size of Object.keys(SIZES)) {
  const mock = await new Mock({ simulated: ["heron", "gull", "minnow", "tide", "skiff", "millwheel"] }).start();
  const { page, complaints, close } = await openBrowser({ size, touch: size !== "landscape" });
  const take = (name) => shot(page, `${size}-${name}`);
  const { machine } = mock;
  await page.goto(mock.url);
  await page.waitForSelector("[data-rig=heron] path");
  await wait(page, 400);
  await take("1-disarmed");
  await page.click("#arm-open");
  await wait(page, 100);
  await take("2-arm-asked");
  await page.click("#arm-do");
  machine.take("standby", { cues: ["1"] });
  await wait(page, 900);
  await take("3-ready");
  machine.take("standby", { cues: ["9"] });
  await page.click("[data-cue='9'] .cue-choose");
  await wait(page, 700);
  await take("4-not-ready");
  machine.take("standby", { cues: ["1", "3"] });
  machine.take("go", {});
  await page.click("[data-cue='9'] .cue-choose");
  await wait(page, 4000);
  await take("5-running");
  machine.take("hold", {});
  await wait(page, 1500);
  await take("6-held");
  machine.take("resume", {});
  await wait(page, 600);
  machine.take("stop", {});
  await wait(page, 300);
  await take("7-coming-to-rest");
  await wait(page, 1500);
  machine.faults.gull = "The rig gull does not answer: last report 3.4 s ago, 0.2 s allowed.";
  await page.click("#reset");
  await wait(page, 300);
  await take("8-stopped");
  machine.faults = {};
  await page.click("#cautions-open");
  await wait(page, 200);
  await take("9-cautions");
  await page.click("#cautions-close");
  machine.inputs["cellar gate closed"] = null;
  await page.click("#tab-conditions");
  await wait(page, 200);
  await take("10-conditions");
  await page.click("#tab-log");
  mock.frozen = true;
  await wait(page, 3300);
  await page.click("#stop");
  await wait(page, 200);
  await take("11-lost");
  if (complaints.length) console.log(size, complaints);
  await close();
  await mock.kill();
}

// The panel: one model, one picture of it a frame at most, and views that each show one idea.

import { Arming, Master } from "./arming.js";
import { Banners, Lost, Stopped } from "./banners.js";
import { Chart } from "./chart.js";
import { Conditions } from "./conditions.js";
import { Edit } from "./edit.js";
import { Entry, enterByAddress } from "./entry.js";
import { bindKeys } from "./keys.js";
import { Log } from "./log.js";
import { Model } from "./model.js";
import { Offers } from "./offers.js";
import { Order } from "./order.js";
import { Fingers } from "./press.js";
import { Readiness } from "./readiness.js";
import { Rigs } from "./rigs.js";
import { Running } from "./running.js";
import { Stop } from "./stop.js";
import { Survey } from "./survey.js";
import { bindCautions, bindTabs } from "./tabs.js";
import { Takes } from "./takes.js";
import { bindWaking } from "./waking.js";

const model = new Model();
// The stop comes first, so that it works even if something after it fails.
const stop = new Stop(model);
bindKeys(stop);

const views = [
  stop,
  new Entry(model),
  new Lost(model),
  new Stopped(model),
  new Banners(model),
  new Edit(model),
  new Offers(model),
  new Readiness(model, new Fingers()),
  new Running(model),
  new Order(model),
  new Arming(model),
  new Master(model),
  new Chart(model),
  new Rigs(model),
  new Survey(model),
  new Takes(model),
  new Conditions(model),
  new Log(model),
];

let asked = false;

function render() {
  asked = false;
  for (const view of views) {
    try {
      view.render();
    } catch (error) {
      // One view that cannot draw must not take the others, least of all the stop, with it.
      console.error(error);
    }
  }
}

model.onChange = () => {
  if (asked) return;
  asked = true;
  requestAnimationFrame(render);
};

// Age is the one thing that changes when nothing arrives.
setInterval(() => model.onChange(), 100);

bindTabs();
bindCautions();
render();
enterByAddress().then(() => bindWaking(model));

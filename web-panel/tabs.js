// The sheets of details, and the cautions.

import { byId, put, show } from "./dom.js";

const NAMES = ["rigs", "takes", "conditions", "log"];

export function bindTabs() {
  const tabs = NAMES.map((name) => byId(`tab-${name}`));
  const open = (chosen) => {
    NAMES.forEach((name, index) => {
      const is = name === chosen;
      show(byId(name), is);
      put(tabs[index], "aria-selected", String(is));
      put(tabs[index], "tabindex", is ? "0" : "-1");
    });
  };
  tabs.forEach((tab, index) => {
    tab.addEventListener("click", () => open(NAMES[index]));
    tab.addEventListener("keydown", (event) => {
      const step = { ArrowRight: 1, ArrowLeft: -1 }[event.key];
      if (!step) return;
      const next = (index + step + NAMES.length) % NAMES.length;
      open(NAMES[next]);
      tabs[next].focus();
    });
  });
  open(NAMES[0]);
}

export function bindCautions() {
  const sheet = byId("cautions");
  const opener = byId("cautions-open");
  const set = (visible) => {
    show(sheet, visible);
    put(opener, "aria-expanded", String(visible));
  };
  opener.addEventListener("click", () => set(sheet.hidden));
  byId("cautions-close").addEventListener("click", () => {
    set(false);
    opener.focus();
  });
}

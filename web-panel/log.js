// The last events, newest first.

import { byId, el, flag, say } from "./dom.js";
import { clock } from "./words.js";

const TROUBLE = new Set(["stop", "fault"]);
const ABNORMAL = new Set(["refused", "dropped", "held", "client", "panel", "standstill-overdue"]);

export class Log {
  constructor(model) {
    this.model = model;
    this.list = byId("log-list");
    this.rows = new Map();
  }

  render() {
    const { log } = this.model;
    if (this.newest === log[0] && this.list.childElementCount === log.length) return;
    this.newest = log[0];
    const kept = new Set(log);
    for (const [entry, row] of this.rows) {
      if (!kept.has(entry)) {
        row.remove();
        this.rows.delete(entry);
      }
    }
    // Oldest of the new ones first, each put on top.
    for (const entry of log.filter((candidate) => !this.rows.has(candidate)).reverse()) {
      const row = rowOf(entry);
      this.rows.set(entry, row);
      this.list.prepend(row);
    }
  }
}

function rowOf(entry) {
  const kind = el("span", { class: "log-kind" });
  say(kind, entry.kind);
  const row = el("li", {}, el("time", {}, clock(entry.at)), kind, el("span", { class: "log-text" }, entry.text));
  flag(row, "trouble", TROUBLE.has(entry.kind));
  flag(row, "abnormal", ABNORMAL.has(entry.kind));
  return row;
}

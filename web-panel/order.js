// The running order. A tap chooses a cue and opens it; standby is a second, deliberate press. The list follows the
// current place, but never while a hand is busy with it.

import { byId, el, enable, flag, keyed, lines, put, say, show } from "./dom.js";
import { setGlyph } from "./glyph.js";
import { seconds } from "./words.js";

/** A list that was scrolled by hand is left alone for so long. */
const HANDS_OFF_MS = 8000;

export class Order {
  constructor(model) {
    this.model = model;
    this.list = byId("order-list");
    this.toPlace = byId("order-place");
    this.rows = new Map();
    this.hash = null;
    this.chosen = null;
    this.place = null;
    this.touchedAt = -Infinity;
    for (const kind of ["wheel", "pointerdown", "touchmove"]) {
      this.list.addEventListener(kind, () => (this.touchedAt = performance.now()), { passive: true });
    }
    this.list.addEventListener("scroll", () => this.offerPlace(), { passive: true });
    this.toPlace.addEventListener("click", () => this.scrollToPlace());
  }

  render() {
    const { show: script, status } = this.model;
    if (!script) return;
    if (this.hash !== script.hash) this.rebuild(script);
    for (const cue of script.cues) this.paint(this.rows.get(cue.number), cue, status);
    this.follow(placeOf(script, status));
  }

  rebuild(script) {
    this.hash = script.hash;
    this.rows.clear();
    this.list.replaceChildren();
    this.place = null;
    if (!this.model.cue(this.chosen)) this.chosen = null;
    const cues = new Map(script.cues.map((cue) => [cue.number, cue]));
    keyed(this.list, [...cues.keys()], this.rows, (number) => this.row(cues.get(number)));
  }

  row(cue) {
    const glyph = el("span", { class: "cue-glyph" });
    const state = el("span", { class: "cue-state" });
    const choose = el(
      "button",
      { type: "button", class: "cue-choose", "aria-expanded": "false" },
      el("span", { class: "cue-number" }, cue.number),
      el("span", { class: "cue-text" }, el("span", { class: "cue-name" }, cue.name), el("span", { class: "cue-call" }, callOf(cue))),
      el("span", { class: "cue-mark" }, glyph, state),
    );
    const standby = el("button", { type: "button", class: "deliberate" }, `Standby ${cue.number}`);
    const reasons = el("ul", { class: "reasons", role: "status" });
    const detail = el("div", { class: "cue-detail" }, factsOf(cue), standby, reasons);
    choose.addEventListener("click", () => this.choose(this.chosen === cue.number ? null : cue.number));
    standby.addEventListener("click", () => this.standby(cue.number, reasons));
    const root = el("li", { "data-cue": cue.number }, choose, detail);
    return { root, glyph, state, choose, standby, reasons, detail };
  }

  paint(row, cue, status) {
    const state = status?.cues[cue.number] ?? "idle";
    const waiting = status?.waiting.find((entry) => entry.cue === cue.number);
    put(row.root, "data-state", state);
    setGlyph(row.glyph, state);
    say(row.state, waiting && Number.isFinite(waiting.left) ? `${state} ${seconds(waiting.left)}` : state);
    const open = this.chosen === cue.number;
    flag(row.root, "chosen", open);
    put(row.choose, "aria-expanded", String(open));
    show(row.detail, open);
    enable(row.standby, this.model.may("caller"));
  }

  choose(number) {
    this.chosen = number;
    this.render();
    const row = this.rows.get(number);
    if (row) this.bringIntoView(row.root);
  }

  async standby(number, reasons) {
    lines(reasons, []);
    const answer = await this.model.ask("standby", { cues: [number] });
    if (!answer.accepted) lines(reasons, answer.reasons);
    else if (this.chosen === number) this.choose(null);
  }

  follow(place) {
    if (place === this.place) return;
    if (this.place !== null) this.rows.get(this.place)?.choose.removeAttribute("aria-current");
    this.place = place;
    this.rows.get(place)?.choose.setAttribute("aria-current", "step");
    for (const [number, row] of this.rows) flag(row.root, "place", number === place);
    if (performance.now() - this.touchedAt > HANDS_OFF_MS) this.scrollToPlace();
    this.offerPlace();
  }

  scrollToPlace() {
    this.touchedAt = -Infinity;
    const row = this.rows.get(this.place);
    if (!row) return;
    // A third from the top, so that what comes next is seen as well.
    this.scrollTo(row.root.offsetTop - this.list.clientHeight / 3);
  }

  bringIntoView(root) {
    const below = root.offsetTop + root.offsetHeight - (this.list.scrollTop + this.list.clientHeight);
    if (below > 0) this.scrollTo(Math.min(root.offsetTop, this.list.scrollTop + below));
    else if (root.offsetTop < this.list.scrollTop) this.scrollTo(root.offsetTop);
  }

  scrollTo(top) {
    const still = matchMedia("(prefers-reduced-motion: reduce)").matches;
    this.list.scrollTo({ top, behavior: still ? "auto" : "smooth" });
  }

  offerPlace() {
    const row = this.rows.get(this.place)?.root;
    const { scrollTop, clientHeight } = this.list;
    const away = row && (row.offsetTop + row.offsetHeight < scrollTop || row.offsetTop > scrollTop + clientHeight);
    show(this.toPlace, Boolean(away));
  }
}

/** Where the show is: what runs, else what stands by, else what was stopped half-way, else the last cue done. */
function placeOf(script, status) {
  if (!status) return null;
  const state = (cue) => status.cues[cue.number];
  const first = (...states) => script.cues.find((cue) => states.includes(state(cue)));
  const done = script.cues.findLast((cue) => state(cue) === "done");
  const place = first("running", "holding", "returning") ?? first("standby") ?? first("stopped") ?? done ?? script.cues[0];
  return place?.number ?? null;
}

/** On what it starts: its follow or the words of its call; and the page. */
export function callOf(cue) {
  const parts = [];
  if (cue.follow) parts.push(`follows ${cue.follow}`);
  if (cue.call) parts.push(cue.call);
  if (cue.page) parts.push(`p.\u00a0${cue.page}`);
  return parts.join(" · ");
}

function factsOf(cue) {
  const facts = el("ul", { class: "cue-facts" });
  const add = (text) => facts.append(el("li", {}, text));
  for (const move of cue.moves) add(move);
  if (cue.needs) add(`needs ${cue.needs}`);
  if (cue.watch) add(`watch: ${cue.watch}`);
  if (cue.notes) add(cue.notes);
  return facts;
}

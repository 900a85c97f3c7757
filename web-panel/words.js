// How numbers and times are written for people. Digits stay still: a figure keeps its number of decimals, and a
// measured one moves only when it has left the last shown value by more than rounding.

const MINUS = "−";

const UNITS = { m: "m", mm: "mm", deg: "°", turn: "turns", percent: "%" };

export function unit(name) {
  return UNITS[name] ?? name ?? "";
}

export function number(value, decimals) {
  if (!Number.isFinite(value)) return "?";
  const text = Math.abs(value).toFixed(decimals);
  return value < 0 && Number(text) !== 0 ? MINUS + text : text;
}

/** Seconds left or gone: tenths under ten seconds, then whole seconds, then minutes. */
export function seconds(value) {
  if (!Number.isFinite(value)) return "? s";
  if (value < 10) return `${number(Math.max(0, value), 1)} s`;
  if (value < 100) return `${Math.round(value)} s`;
  const whole = Math.round(value);
  return `${Math.floor(whole / 60)} min ${String(whole % 60).padStart(2, "0")} s`;
}

export function percent(value) {
  return Number.isFinite(value) ? `${Math.round(value * 100)} %` : "? %";
}

/** As many decimals as show a tenth of what the axis may be off its start. */
export function decimalsFor(tolerance) {
  if (!(tolerance > 0)) return 2;
  return Math.min(3, Math.max(0, Math.ceil(-Math.log10(tolerance) + 0.5)));
}

/** Holds a shown figure until the measured one has really moved, so that sensor noise does not flicker. */
export class Steady {
  constructor(decimals) {
    this.decimals = decimals;
    this.shown = NaN;
  }

  text(value) {
    if (!Number.isFinite(value)) {
      this.shown = NaN;
      return "?";
    }
    if (!(Math.abs(value - this.shown) < 0.8 * 10 ** -this.decimals)) {
      this.shown = Number(value.toFixed(this.decimals));
    }
    return number(this.shown, this.decimals);
  }
}

/** Words of the daemon, which begin small, by themselves. */
export function sentence(text) {
  return `${text.charAt(0).toUpperCase()}${text.slice(1)}.`;
}

export function clock(date) {
  return [date.getHours(), date.getMinutes(), date.getSeconds()].map((part) => String(part).padStart(2, "0")).join(":");
}

export function list(names) {
  if (names.length < 2) return names.join("");
  return `${names.slice(0, -1).join(", ")} and ${names.at(-1)}`;
}

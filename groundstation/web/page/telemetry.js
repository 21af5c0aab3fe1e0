// What the trackers measured, drawn over time; asked for while somebody looks.

import { SVG, draw, path } from "./charts.js";
import { part, show } from "./dom.js";
import { _, significant } from "./language.js";
import { measured } from "./words.js";

const EVERY_MS = 15000;
/** What a name ends with: the unit as it is read. @type {Record<string, string>} */
const UNITS = {
  v: "V", mv: "mV", a: "A", ma: "mA", c: "°C", k: "K", pa: "Pa", hpa: "hPa", percent: "%", ms: "m/s",
  m: "m", dbm: "dBm", db: "dB", deg: "°", s: "s", mm: "mm", wm2: "W/m²", hz: "Hz",
};

/** @param {string} name @param {number} value @param {import("./words.js").Words} words */
function read(name, value, words) {
  const [, plain, tracker] = /** @type {string[]} */ (/^(.*?)( \(.*\))?$/.exec(name));
  const ending = plain.slice(plain.lastIndexOf("_") + 1);
  const unit = plain.includes("_") ? UNITS[ending] ?? "" : "";
  const title = measured(unit ? plain.slice(0, plain.lastIndexOf("_")) : plain) + (tracker ?? "");
  if (unit === "°C" && words.feet) return { title, unit: "°F", value: value * 1.8 + 32 };
  return { title, unit, value };
}

/** @param {number} value */
const short = (value) => significant(value, 4);

export class Telemetry {
  /** @param {any} card @param {string} payload */
  constructor(card, payload) {
    this.card = card;
    this.query = `payload=${encodeURIComponent(payload)}`;
    /** @type {any} */
    this.words = null;
    this.asked = -Infinity;
    card.addEventListener("toggle", () => this.ask());
  }

  /** @param {import("./state").PayloadSnapshot} payload @param {any} words */
  put({ last }, words) {
    this.words = words;
    // One that sends nothing more keeps what it sent.
    if (Object.keys(last?.telemetry ?? {}).length > 0) show(this.card, true);
    if (this.card.open && performance.now() - this.asked > EVERY_MS) this.ask();
  }

  async ask() {
    if (!this.card.open) return;
    this.asked = performance.now();
    const answer = await fetch(`/api/telemetry?${this.query}`).catch(() => null);
    if (!answer?.ok) return;
    const { series } = await answer.json();
    part(this.card, "series").replaceChildren(...Object.entries(series).map(([name, points]) => this.figure(name, points)));
  }

  /** @param {string} name @param {[number, number][]} points */
  figure(name, points) {
    const told = points.map(([t, value]) => [t, read(name, value, this.words).value]);
    const { title, unit } = read(name, 0, this.words);
    const figure = document.createElement("figure");
    const caption = document.createElement("figcaption");
    const svg = /** @type {SVGElement} */ (document.createElementNS(SVG, "svg"));
    svg.setAttribute("viewBox", "0 0 340 96");
    svg.setAttribute("role", "img");
    svg.setAttribute("aria-label", _("{what} over time", { what: title }));
    const values = told.map(([, value]) => value);
    const [low, high] = [Math.min(...values), Math.max(...values)];
    const room = (high - low) * 0.06 || Math.max(Math.abs(high) * 0.05, 0.5);
    const [from, to] = [told[0][0], told[told.length - 1][0]];
    const x = (/** @type {number} */ t) => 52 + (t - from) / (to - from || 1) * 280;
    const y = (/** @type {number} */ value) => 78 - (value - low + room) / (high - low + 2 * room) * 70;
    for (const value of low === high ? [low] : [low, high]) {
      draw(svg, "path", { class: "faint", d: `M52 ${y(value).toFixed(1)}H332` });
      draw(svg, "text", { class: "tiny", x: 47, y: (y(value) + 4).toFixed(1), "text-anchor": "end" }, short(value));
    }
    const clock = (/** @type {number} */ t) => this.words.time(new Date(t * 1000).toISOString());
    draw(svg, "text", { class: "tiny", x: 52, y: 93 }, clock(from));
    draw(svg, "text", { class: "tiny", x: 332, y: 93, "text-anchor": "end" }, clock(to));
    if (told.length > 1) draw(svg, "path", { class: "flown", d: path(told.map(([t, value]) => [x(t), y(value)])) });
    else draw(svg, "circle", { class: "seen", r: 3, cx: x(told[0][0]), cy: y(told[0][1]) });
    const newest = `${short(values[values.length - 1])}${unit ? `\u00a0${unit}` : ""}`;
    caption.textContent = _("{what}: {value} at {time}", { what: title, value: newest, time: clock(to) });
    figure.append(caption, svg);
    return figure;
  }
}

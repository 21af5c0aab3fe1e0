// Two drawings: height over time, and the rate of the fall over height beside what is expected.

import { _, number } from "./language.js";

export const SVG = "http://www.w3.org/2000/svg";
const RATE_OVER_S = 40;
const FOOT = 0.3048; // m, exact by definition

export function draw(parent, tag, attributes, text) {
  const node = document.createElementNS(SVG, tag);
  for (const [name, value] of Object.entries(attributes)) node.setAttribute(name, value);
  if (text !== undefined) node.textContent = text;
  parent.append(node);
  return node;
}

export function steps(most, about) {
  const raw = most / about;
  const ten = 10 ** Math.floor(Math.log10(raw));
  const step = ([1, 2, 5, 10].find((n) => n * ten >= raw) ?? 10) * ten;
  return Array.from({ length: Math.floor(most / step) + 1 }, (_, n) => n * step);
}

export const path = (pairs) => `M${pairs.map(([x, y]) => `${x.toFixed(1)} ${y.toFixed(1)}`).join("L")}`;

// Heights as they are read: in m or ft.
const height = (m, words) => (words.feet ? m / FOOT : m);

/** Whether heights came, or may come yet: a tracker that tells places alone has none to draw.
 * @param {import("./state").PayloadSnapshot} payload @param {import("./contact.js").Step[]} track */
export const hasHeights = ({ last }, track) => last === null || last.altitude_m !== null || track.some(([, , , m]) => m !== null);

/** @param {SVGElement} svg @param {import("./state").PayloadSnapshot} payload
 * @param {import("./contact.js").Step[]} track @param {import("./words.js").Words} words */
export function drawClimb(svg, payload, track, words) {
  const [left, top, right, foot] = [46, 20, 332, 122];
  svg.replaceChildren();
  const { launch, landing, burst, last, phase } = payload;
  /** @type {Array<[number, number]>} */
  const known = track.flatMap(([t, , , m]) => (m === null ? [] : [[t, m]]));
  if (last && last.altitude_m !== null) known.push([Date.parse(last.time) / 1000, last.altitude_m]);
  if (payload.height) known.push([Date.parse(payload.height.time) / 1000, payload.height.altitude_m]);
  if (known.length < 2) {
    draw(svg, "text", { x: 170, y: 75, "text-anchor": "middle" }, _("No heights yet"));
    return;
  }
  const begun = launch ? Date.parse(launch.time) / 1000 : known[0][0];
  const flown = known.filter(([t]) => t >= begun - 60);
  const [lastT, lastM] = flown.at(-1) ?? known[known.length - 1];
  const coming = landing && phase !== "landed" ? Date.parse(landing.eta) / 1000 : lastT;
  const end = Math.max(coming, lastT, begun + 600);
  const most = Math.max(...flown.map(([, m]) => m), phase === "ascent" ? payload.expected_burst_m ?? 0 : 0, 500) * 1.04;
  const x = (t) => left + (Math.max(t, begun) - begun) / (end - begun) * (right - left);
  const y = (m) => foot - Math.max(0, m) / most * (foot - top);
  for (const value of steps(height(most, words), 3)) {
    const m = words.feet ? value * FOOT : value;
    draw(svg, "path", { class: "faint", d: `M${left} ${y(m).toFixed(1)}H${right}` });
    draw(svg, "text", { class: "tiny", x: left - 5, y: (y(m) + 4).toFixed(1), "text-anchor": "end" }, value >= 1000 ? `${number(value / 1000, 0, 1)}k` : `${value}`);
  }
  draw(svg, "text", { class: "tiny", x: left - 5, y: 10, "text-anchor": "end" }, words.feet ? "ft" : "m");
  if (landing && phase !== "landed") {
    const top = payload.expected_burst_m ?? 0;
    const ahead = phase === "ascent" && top > lastM
      ? [[lastT, lastM], [lastT + (top - lastM) / Math.max(payload.rate_ms ?? 5, 1), top], [coming, landing.ground_m]]
      : [[lastT, lastM], [coming, landing.ground_m]];
    draw(svg, "path", { class: "coming", d: path(ahead.map(([t, m]) => [x(Math.min(t, end)), y(m)])) });
  }
  draw(svg, "path", { class: "flown", d: path(flown.map(([t, m]) => [x(t), y(m)])) });
  draw(svg, "circle", { class: "mark-now", r: 6, cx: x(lastT).toFixed(1), cy: y(lastM).toFixed(1) });
  const clock = (t) => words.time(new Date(t * 1000).toISOString());
  draw(svg, "text", { class: "tiny", x: left, y: 138, "text-anchor": "start" }, launch ? _("launch {time}", { time: clock(begun) }) : clock(begun));
  draw(svg, "text", { class: "tiny", x: right, y: 138, "text-anchor": "end" }, landing && phase !== "landed" ? _("landing {time}", { time: clock(end) }) : clock(end));
  if (!burst) return;
  const at = Date.parse(burst.time) / 1000;
  draw(svg, "path", { class: "coming", d: `M${x(at).toFixed(1)} ${top}V${foot}` });
  const side = /** @type {[string, number]} */ (x(at) > 230 ? ["end", -4] : ["start", 4]);
  draw(svg, "text", { class: "tiny halo", x: (x(at) + side[1]).toFixed(1), y: 14, "text-anchor": side[0] }, _("burst {time}", { time: clock(at) }));
}

// Rates between fixes at least RATE_OVER_S apart, after the burst.
function rates(track, since) {
  const found = [];
  let from = null;
  for (const [t, , , m] of track) {
    if (t < since || m === null) continue;
    if (from === null) from = [t, m];
    if (t - from[0] < RATE_OVER_S) continue;
    found.push([(from[1] + m) / 2, (from[1] - m) / (t - from[0])]);
    from = [t, m];
  }
  return found.filter(([, rate]) => rate > 0);
}

/** @param {SVGElement} svg @param {import("./state").PayloadSnapshot} payload
 * @param {import("./contact.js").Step[]} track @param {number[]} speedRatios @param {import("./words.js").Words} words */
export function drawFall(svg, payload, track, speedRatios, words) {
  const [left, top, right, foot] = [46, 20, 332, 122];
  svg.replaceChildren();
  const { burst, landing } = payload;
  if (!burst || !landing || speedRatios.length === 0) {
    draw(svg, "text", { x: 170, y: 75, "text-anchor": "middle" }, _("No fall yet"));
    return;
  }
  const seen = rates(track, Date.parse(burst.time) / 1000).filter(([m]) => m > landing.ground_m + 100);
  const most = burst.altitude_m;
  const thin = (m) => {
    const at = Math.min(Math.max(m, 0) / 1000, speedRatios.length - 1.001);
    const low = Math.floor(at);
    return speedRatios[low] + (at - low) * (speedRatios[low + 1] - speedRatios[low]);
  };
  const curve = (ms) => Array.from({ length: 41 }, (_, n) => {
    const m = landing.ground_m + n / 40 * (most - landing.ground_m);
    return [m, ms * thin(m) / thin(landing.ground_m)];
  });
  const scale = words.feet ? 60 / FOOT : 1;
  const fastest = Math.max(10, ...seen.map(([, rate]) => Math.min(rate, 80)), curve(landing.descent_rate_ms)[40][1]) * 1.05;
  const x = (rate) => left + Math.min(rate, fastest) / fastest * (right - left);
  const y = (m) => foot - m / most * (foot - top);
  for (const value of steps(fastest * scale, 5)) {
    draw(svg, "path", { class: "faint", d: `M${x(value / scale).toFixed(1)} ${top}V${foot}` });
    draw(svg, "text", { class: "tiny", x: x(value / scale).toFixed(1), y: 136, "text-anchor": "middle" }, number(value));
  }
  draw(svg, "text", { class: "tiny", x: right, y: 14, "text-anchor": "end" }, _("descent, {unit}", { unit: words.feet ? "ft/min" : "m/s" }));
  for (const value of steps(height(most, words), 3)) {
    const m = words.feet ? value * FOOT : value;
    draw(svg, "text", { class: "tiny", x: left - 5, y: (y(m) + 4).toFixed(1), "text-anchor": "end" }, value >= 1000 ? `${number(value / 1000, 0, 1)}k` : `${value}`);
  }
  draw(svg, "text", { class: "tiny", x: left - 5, y: 10, "text-anchor": "end" }, words.feet ? "ft" : "m");
  for (const ms of landing.descent_rate_90_ms ?? []) {
    draw(svg, "path", { class: "coming", d: path(curve(ms).map(([m, rate]) => [x(rate), y(m)])) });
  }
  draw(svg, "path", { class: "fitted", d: path(curve(landing.descent_rate_ms).map(([m, rate]) => [x(rate), y(m)])) });
  for (const [m, rate] of seen) draw(svg, "circle", { class: "seen", r: 2.5, cx: x(rate).toFixed(1), cy: y(m).toFixed(1) });
}

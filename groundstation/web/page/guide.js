// The top of the page: in which phase it is, what to do now, and what that rests on. One function
// gives all three, so that they never contradict each other.

import { away, point, span } from "./words.js";

/** @typedef {import("./state").PayloadSnapshot} Payload */
/** @typedef {import("./state").VehicleSnapshot} Vehicle */
/** @typedef {import("./contact.js").Contact} Contact */
/** @typedef {import("./words.js").Words} Words */
/** @typedef {{sign: string, word: string, todo: string, rests: string, searching: boolean}} Guide */

const SOON_S = 600; // own choice: by then whoever drives there should look up

const PHASES = {
  prelaunch: ["◇", "Waiting"], ascent: ["▲", "Rising"], float: ["◆", "Floating"],
  descent: ["▼", "Falling"], landed: ["■", "Landed"],
};

/** From me where this phone knows its place, else from a vehicle, else from the base.
 * @param {{lat: number, lon: number, distance_m?: number | null, bearing_deg?: number | null}} place
 * @param {Vehicle[]} vehicles @param {[number, number] | null} me @param {Words} words */
export function farFrom(place, vehicles, me, words) {
  const to = /** @type {[number, number]} */ ([place.lat, place.lon]);
  if (me !== null) return words.shortFrom(...away(me, to), "you");
  if (vehicles.length === 1) {
    const [car] = vehicles;
    return words.shortFrom(...away([car.lat, car.lon], to), car.vehicle);
  }
  if (place.distance_m != null && place.bearing_deg != null) return words.shortFrom(place.distance_m, place.bearing_deg, "base");
  return point(place.lat, place.lon);
}

const LIKELY = { ascent: "rising", float: "floating", descent: "falling", landed: "down" };

/** What it likely does, where no height tells it: the likeliest phase and the height, with how sure.
 * @param {Payload["landing"]} landing @param {Words} words @returns {string} */
function likely(landing, words) {
  if (landing === null || landing.burst_90 === null || landing.chance === null) return "";
  const [phase, chance] = Object.entries(landing.chance).reduce((best, one) => (one[1] > best[1] ? one : best));
  const sure = `${chance < 0.9 ? "probably " : ""}${LIKELY[/** @type {keyof typeof LIKELY} */ (phase)]} (${Math.round(100 * chance)} %)`;
  if (phase === "landed" || landing.height_90_m === null) return sure;
  const [low, high] = landing.height_90_m.map((m) => words.height(m));
  return `${sure}, between ${low} and ${high} high (90 %)`;
}

/** @param {Payload} payload @param {Vehicle[]} vehicles @param {[number, number] | null} me
 * @param {Words} words @param {Contact} contact @returns {Guide} */
export function guideOf(payload, vehicles, me, words, contact) {
  const { phase, last, landing, found, silent_since: silent, since } = payload;
  const [sign, word] = PHASES[phase] ?? ["◇", phase];
  const ago = (/** @type {string} */ iso) => span(contact.since(iso));
  const far = landing === null ? "" : farFrom(landing, vehicles, me, words);
  const rests = [];
  if (last !== null) rests.push(`Fix ${ago(last.time)} old`);
  if (phase !== "prelaunch" && since !== null) rests.push(`${word.toLowerCase()} since ${words.time(since)}`);
  const doing = phase === "landed" ? "" : likely(landing, words);
  if (doing) rests.push(doing);
  const told = (/** @type {string} */ todo, more = {}) => ({ sign, word, todo, rests: rests.length === 0 ? "" : `${rests.join(", ")}.`, searching: false, ...more });

  if (found !== null) {
    const lost = found.condition === "lost";
    return {
      sign: "✓", word: lost ? "Given up" : "Found", searching: false,
      todo: lost ? "The search was given up. Nothing more to do here." : "It is found. Nothing more to do here.",
      rests: `Noted ${words.time(found.time)}${found.who ? ` by ${found.who}` : ""}.`,
    };
  }
  if (last === null) return told("Nothing was heard from it yet: switch its tracker on, and see that it is heard.");
  const at = last.altitude_m === null ? "" : `, last at ${words.height(last.altitude_m)}`;
  if (phase === "landed") {
    return told(`It is down${far ? `, ${far}` : ""}. Go there, ask whose land it is, and search.`, { searching: true });
  }
  if (phase === "descent" && landing !== null && contact.since(landing.eta_90[1]) > 0) {
    const lastAt = last.altitude_m === null ? "" : ` at ${words.height(last.altitude_m)}`;
    return told(`Search ${far}: it should be down since ${words.time(landing.eta)}.`, {
      sign: "▽", word: "Should be down", searching: true,
      rests: `Last heard ${ago(last.time)} ago${lastAt}.`,
    });
  }
  if (silent !== null && phase !== "prelaunch") {
    const expected = landing === null ? "" : ` Expected down ${words.time(landing.eta)}, ${far}.`;
    const act = phase === "descent" ? " Head there." : "";
    return told(`Silent since ${words.time(silent)}${at}.${expected}${act}`, { sign: "○", word: `${word}, silent` });
  }
  if (phase === "prelaunch") return told("Before the launch: see that every tracker is heard, then let it go.");
  if (landing === null) return told("Wait: there is no landing estimate yet.");
  const due = -contact.since(landing.eta);
  if (phase === "descent") {
    return told(due < SOON_S
      ? `It lands ${due < 0 ? "any moment" : `in ${span(due)}`}, ${far}. Look up, and keep clear of it.`
      : `Head for the landing, ${far}.`);
  }
  if (phase === "float") return told(`It floats: wait. If it fell as planned it would land ${far}.`);
  return told(`Make ready: down about ${words.time(landing.eta)}, ${far}.`, {
    rests: `${rests.join(", ")}. The point will still move.`,
  });
}

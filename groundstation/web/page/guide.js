// The top of the page: the station's current instruction. It is the station that judges; this phone
// only puts in where the place lies from here, and how old the fix is.

import { _ } from "./language.js";
import { away, point, span } from "./words.js";

/** @typedef {import("./state").PayloadSnapshot} Payload */
/** @typedef {import("./state").InstructionSnapshot} Instruction */
/** @typedef {import("./state").VehicleSnapshot} Vehicle */
/** @typedef {import("./contact.js").Contact} Contact */
/** @typedef {import("./words.js").Words} Words */
/** @typedef {{sign: string, word: string, todo: string, rests: string, searching: boolean}} Guide */

/** @type {Record<Instruction["standing"], string>} */
const SIGNS = {
  waiting: "◇", rising: "▲", floating: "◆", falling: "▼", due: "▽", down: "■", found: "✓", "given-up": "✓",
};

/** @typedef {{lat: number, lon: number, distance_m?: number | null, bearing_deg?: number | null,
 *   town?: import("./state").TownTold | null}} Far */

/** From me where this phone knows its place, else from a vehicle, else by the name of a town, else from the base.
 * @param {Far} place
 * @param {Vehicle[]} vehicles @param {[number, number] | null} me @param {Words} words */
export function farFrom(place, vehicles, me, words) {
  const to = /** @type {[number, number]} */ ([place.lat, place.lon]);
  if (me !== null) return words.shortFrom(...away(me, to), "you");
  if (vehicles.length === 1) {
    const [car] = vehicles;
    return words.shortFrom(...away([car.lat, car.lon], to), { name: car.vehicle });
  }
  if (place.town) return ofTown(place.town, words);
  if (place.distance_m != null && place.bearing_deg != null) return words.shortFrom(place.distance_m, place.bearing_deg, "base");
  return point(place.lat, place.lon);
}

/** Whether it lies on the ground as far as the station knows.
 * @param {Instruction} told */
export const isDown = ({ standing }) => ["due", "down", "found", "given-up"].includes(standing);

/** @param {import("./state").TownTold} town @param {Words} words */
export const ofTown = (town, words) => (town.distance_m < 100 ? _("in {name}", { name: town.name })
  : words.shortFrom(town.distance_m, town.bearing_deg, town));

// A number and its unit stay on one line.
/** @param {string} text */
const unbroken = (text) => text.replace(/(\d) (?=\p{L}{1,2}(?!\p{L})|%)/gu, "$1\u00a0");

/** @param {Payload} payload @param {[number, number] | null} me @param {Words} words
 * @param {Contact} contact @returns {Guide} */
export function guideOf({ instruction: told }, me, words, contact) {
  const { lat, lon, fix } = told;
  const where = lat === null || lon === null ? ""
    : me !== null ? words.shortFrom(...away(me, [lat, lon]), "you")
    : told.where || point(lat, lon);
  const asOf = contact.lost && contact.state !== null ? `${_("As of {time}:", { time: words.time(contact.state.now) })} ` : "";
  const rests = [told.happened];
  if (fix !== null && told.act !== "nothing") {
    rests.push(`${_("Fix {span} old", { span: span(contact.since(fix)) })}${told.rests_on ? `, ${told.rests_on}` : ""}.`);
  }
  if (told.caution) rests.push(told.caution);
  return {
    sign: told.silent ? "○" : SIGNS[told.standing],
    word: told.badge,
    todo: unbroken(asOf + told.todo.replace("{where}", where)),
    rests: rests.join(" "),
    searching: told.act === "search" || told.act === "fetch",
  };
}

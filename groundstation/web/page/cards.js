// The cards of a payload, of the sources and of the targets.

import { links } from "./contact.js";
import { link, part, say, sayOrHide, show } from "./dom.js";
import { farFrom, isDown, ofTown } from "./guide.js";
import { compass, point, reading, span } from "./words.js";

/** @typedef {import("./state").PayloadSnapshot} Payload */
/** @typedef {import("./state").VehicleSnapshot} Vehicle */
/** @typedef {import("./state").SourceSnapshot} Source */
/** @typedef {import("./state").TargetSnapshot} Target */
/** @typedef {import("./state").MessageSnapshot} Message */
/** @typedef {import("./contact.js").Contact} Contact */
/** @typedef {import("./words.js").Words} Words */
/** @typedef {import("./guide.js").Guide} Guide */

const LEVEL_MS = 0.3; // below this the height does not say up or down
const OLD_S = 180; // own choice: what an older fix tells of its speed may be over
const DRIFTS_MS = 0.5; // below this it stands, as far as fixes tell

/** @type {Record<Source["state"], [string, string]>} */
const SOURCES = {
  starting: ["◇", "starting"], running: ["●", "working"], quiet: ["○", "connected, but silent"],
  waiting: ["▲", "not connected"], ended: ["■", "at its end"],
};

/** @param {HTMLElement} card @param {Payload} payload @param {Guide} guide */
export function putGuide(card, payload, guide) {
  say(part(card, "payload"), payload.payload);
  say(part(card, "phase-sign"), guide.sign);
  say(part(card, "phase"), guide.word);
  say(part(card, "todo"), guide.todo);
  say(part(card, "rests"), guide.rests);
}

/** @param {HTMLElement} card @param {Payload} payload @param {Vehicle[]} vehicles
 * @param {[number, number] | null} me @param {Words} words @param {Contact} contact
 * @param {import("./drive.js").Drive} drive */
export function putLanding(card, payload, vehicles, me, words, contact, drive) {
  const { found, planned, phase, since, instruction, if_launched } = payload;
  const landing = payload.landing ?? if_launched?.landing ?? null;
  const not_yet = payload.landing === null && found === null && if_launched !== null;
  /** @type {import("./guide.js").Far | null} */
  const place = found ?? landing;
  show(card, place !== null);
  if (place === null) return;
  const set = (/** @type {string} */ name, /** @type {string} */ text) => sayOrHide(part(card, name), text);
  const landed = phase === "landed";
  const down = landed || instruction.standing === "down";
  set("landing-word", not_yet ? `If launched at ${words.time(if_launched.launch)}` : found ? "Closed" : down ? "Landed, estimate" : "Landing estimate");
  show(/** @type {HTMLElement} */ (card.querySelector(".go")), !not_yet);
  const far = farFrom(place, vehicles, me, words);
  const town = landing?.town && !found ? ofTown(landing.town, words) : "";
  set("far", far);
  set("town", town === far ? "" : town);
  set("eta", not_yet ? `down ${words.time(landing?.eta ?? null)}` : found ? (found.condition === "lost" ? "Given up" : "Found")
    : landed ? (since === null ? "down" : `down for ${span(contact.since(since))}`)
    : down ? "heard on the ground"
    : landing ? due(-contact.since(landing.eta)) : "");
  set("eta-range", landing && !down && !found
    ? `${not_yet ? "Nothing is flown yet. " : ""}${words.time(landing.eta)} (90 %: ${words.time(landing.eta_90[0])}–${words.time(landing.eta_90[1])})` : "");
  show(part(card, "sure"), landing !== null && found === null);
  if (landing) {
    set("sure-50", words.distance(landing.radius_50_m));
    set("sure-90", words.distance(landing.radius_90_m));
  }
  set("landing-point", point(place.lat, place.lon));
  set("drive-with", drive.name === "" ? "choose the map" : `by ${drive.name}`);
  const road = drive.road(payload.payload, place.lat, place.lon);
  set("walk", road === null ? "" : `By ${road.name || "the nearest road"}, then ${words.distance(road.walk_m)} ${compass(road.bearing_deg)} on foot in a straight line.`);
  set("landing-base", landing ? words.fromBase(landing.distance_m, landing.bearing_deg) : "");
  set("landing-plan", planned && landing ? words.fromPlace(planned.distance_m, planned.bearing_deg, "the plan") : "");
  set("landing-vehicles", vehicles.flatMap((one) => one.to_landing
    .filter(({ payload: name }) => name === payload.payload)
    .map((way) => fromVehicle(one, way, words, contact))).join(" · "));
  const inside = Object.entries(landing?.inside ?? {}).map(([name, share]) => `${name}: ${Math.round(100 * (share ?? 0))} %`);
  const out = inside.length === 0 ? "" : `May come down in ${inside.join(", ")}. `;
  set("landing-basis", landing ? `${out}${not_yet ? "" : `From a fix ${span(contact.since(landing.evidence))} old: `}${landing.basis}` : "");
  const { geo, map } = links(place.lat, place.lon);
  link(part(card, "landing-geo"), geo);
  link(part(card, "landing-map"), map);
}

/** @param {Vehicle} vehicle @param {Vehicle["to_landing"][number]} way @param {Words} words @param {Contact} contact */
function fromVehicle(vehicle, way, words, contact) {
  const age = contact.since(vehicle.time);
  const old = age > 120 ? ` (${span(age)} ago)` : "";
  const there = way.straight_in_s === null ? "" : `, ${span(way.straight_in_s)} in a straight line at its speed`;
  return `${words.fromPlace(way.distance_m, way.bearing_deg, vehicle.vehicle)}${there}${old}`;
}

/** @param {number} s */
function due(s) {
  if (s < 0) return `due ${span(-s)} ago`;
  return `in ${span(s < 600 ? s : Math.round(s / 60) * 60)}`;
}

/** @param {HTMLElement} card @param {Payload} payload @param {Words} words @param {Contact} contact */
export function putFacts(card, payload, words, contact) {
  const { last, phase, instruction } = payload;
  show(card, last !== null);
  if (last === null) return;
  const set = (/** @type {string} */ name, /** @type {string} */ text) => sayOrHide(part(card, name), text);
  const [age, heardAge] = [contact.since(last.time), contact.since(last.received)];
  set("heard", `${span(heardAge)} ago`);
  set("heard-note", age - heardAge > 30 ? `The position itself is ${span(age)} old.` : "");
  show(part(card, "height-part"), last.altitude_m !== null);
  const [height, heightUnit] = words.heightParts(last.altitude_m);
  set("height", height);
  set("height-unit", heightUnit);
  set("agl", last.agl_m === null ? "" : `${words.height(last.agl_m)} above ground`);
  const flies = phase !== "prelaunch" && !isDown(instruction);
  const rate = flies ? payload.rate_ms : null;
  const drifts = flies && last.speed_ms !== null && last.speed_ms > DRIFTS_MS;
  show(part(card, "rate-part"), rate !== null || drifts);
  show(part(card, "pair"), last.altitude_m !== null || rate !== null || drifts);
  const moving = rate !== null && Math.abs(rate) > LEVEL_MS;
  const word = rate === null ? "Drift" : moving ? (rate > 0 ? "Ascending" : "Descending") : "Level";
  set("rate-word", age > OLD_S ? `${word} then` : word);
  set("rate-sign", moving ? (rate > 0 ? "▲" : "▼") : "");
  const [speed, speedUnit] = rate === null ? [drifts ? words.speed(last.speed_ms ?? 0) : "", ""] : words.rateParts(rate);
  set("rate", speed);
  set("rate-unit", speedUnit);
  const way = last.course_deg === null ? "" : ` to the ${compass(last.course_deg)}`;
  set("drift", drifts ? `drifts${rate === null ? "" : ` ${words.speed(last.speed_ms ?? 0)}`}${way}` : "");
  set("last-point", point(last.lat, last.lon));
  set("last-base", words.fromBase(last.distance_m, last.bearing_deg));
  set("last-by", heardBy(last, words));
  const { geo, map } = links(last.lat, last.lon);
  link(part(card, "last-geo"), geo);
  link(part(card, "last-map"), map);
}

/** @param {NonNullable<Payload["last"]>} last @param {Words} words */
function heardBy(last, words) {
  const more = Object.entries(last.telemetry).map(([name, value]) => reading(name, value, words.feet));
  if (last.satellites !== null) more.unshift(`${last.satellites} satellites`);
  return [`Fix of ${words.exact(last.time)} from ${last.tracker} by ${last.source}`, ...more].join(" · ");
}

/** @param {Payload} payload @param {Words} words @param {Contact} contact */
export function story(payload, words, contact) {
  const { launch, burst, instruction } = payload;
  const told = [];
  if (launch) {
    const flies = isDown(instruction) ? "" : `, flying ${span(contact.since(launch.time))}`;
    told.push(`Launched ${words.time(launch.time)}${flies}.`);
  }
  if (burst) told.push(`Burst ${words.time(burst.time)} at ${words.height(burst.altitude_m)}.`);
  return told.join(" ") || "Not launched yet.";
}

const grouped = (/** @type {number} */ n) => n.toLocaleString("en-GB");

/** @param {HTMLElement} row @param {Source} source @param {Contact} contact */
export function putSource(row, source, contact) {
  const [sign, word] = SOURCES[source.state];
  say(part(row, "sign"), sign);
  say(part(row, "name"), source.name);
  say(part(row, "state"), `${word} for ${span(contact.since(source.since))}`);
  const heard = source.last_frame === null ? "nothing heard yet" : `last heard ${span(contact.since(source.last_frame))} ago`;
  say(part(row, "detail"), `${source.kind}, ${grouped(source.frames)} frames, ${heard}`);
  sayOrHide(part(row, "receivers"), source.receivers.length < 2 ? "" : source.receivers.map((one) =>
    `${one.name}: ${grouped(one.frames)}, ${span(contact.since(one.last))} ago`).join(" · "));
  const failed = source.failures === 0 ? [] : [`failed ${source.failures === 1 ? "once" : `${source.failures} times`}`];
  sayOrHide(part(row, "error"), [...failed, ...trouble(source, contact)].join(" · "));
}

/** @param {Source | Target} item @param {Contact} contact */
function trouble(item, contact) {
  const told = [];
  if (item.last_error) told.push(`last: ${item.last_error}`);
  if (item.next_try_s !== null) told.push(`next try in ${span(item.next_try_s - contact.silence)}`);
  return told;
}

/** @param {HTMLElement} row @param {Target} target @param {Contact} contact */
export function putTarget(row, target, contact) {
  const stuck = target.waiting > 0;
  say(part(row, "sign"), stuck ? "▲" : "●");
  say(part(row, "name"), target.name);
  say(part(row, "state"), stuck
    ? `${target.waiting} waiting${target.oldest_waiting === null ? "" : `, the oldest for ${span(contact.since(target.oldest_waiting))}`}`
    : "nothing waiting");
  const told = [target.kind, `${target.delivered} delivered`];
  if (target.last_delivered !== null) told.push(`last ${span(contact.since(target.last_delivered))} ago`);
  if (target.uncertain > 0) told.push(`${target.uncertain} may have come twice`);
  if (target.expired > 0) told.push(`${target.expired} out of date, not sent`);
  if (target.failures > 0) told.push(`${target.failures} given up`);
  say(part(row, "detail"), told.filter((text) => text).join(", "));
  sayOrHide(part(row, "error"), stuck || target.last_error ? trouble(target, contact).join(" · ") : "");
}

/** @param {HTMLElement} row @param {Message} message @param {string} refused @param {Words} words @param {Contact} contact */
export function putMessage(row, message, refused, words, contact) {
  say(part(row, "title"), message.title);
  say(part(row, "body"), message.body);
  say(part(row, "when"), `${words.time(message.time)}, ${span(contact.since(message.time))} ago`);
  const button = part(row, "seen");
  // Only the newest is spread out, until somebody opens another.
  if (button.dataset.key !== message.key) part(row, "more").open = row === row.parentElement?.firstElementChild;
  button.dataset.key = message.key;
  button.disabled = message.seen;
  say(button, message.seen ? "✓ Seen" : refused || "Mark as seen");
}

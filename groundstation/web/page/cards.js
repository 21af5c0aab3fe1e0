// The cards of a payload, of the sources and of the targets.

import { links } from "./contact.js";
import { link, part, say, sayOrHide, show } from "./dom.js";
import { farFrom, isDown, ofTown } from "./guide.js";
import { _, ngettext, number } from "./language.js";
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
  starting: ["◇", _("starting")], running: ["●", _("working")], quiet: ["○", _("connected, but silent")],
  waiting: ["▲", _("not connected")], ended: ["■", _("at its end")],
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
  const nothing = _("Nothing is flown yet.");
  const down = landed || instruction.standing === "down";
  set("landing-word", not_yet ? _("If launched at {time}", { time: words.time(if_launched.launch) })
    : found ? _("Closed") : down ? _("Landed, estimate") : _("Landing estimate"));
  show(/** @type {HTMLElement} */ (card.querySelector(".go")), !not_yet);
  const far = farFrom(place, vehicles, me, words);
  const town = landing?.town && !found ? ofTown(landing.town, words) : "";
  set("far", far);
  set("town", town === far ? "" : town);
  set("eta", not_yet ? _("down {time}", { time: words.time(landing?.eta ?? null) })
    : found ? (found.condition === "lost" ? _("Given up") : _("Found"))
    : landed ? (since === null ? _("down") : _("down for {span}", { span: span(contact.since(since)) }))
    : down ? _("heard on the ground")
    : landing ? due(-contact.since(landing.eta)) : "");
  set("eta-range", landing && !down && !found
    ? `${not_yet ? `${nothing} ` : ""}${words.time(landing.eta)} (90 %: ${words.time(landing.eta_90[0])}–${words.time(landing.eta_90[1])})` : "");
  show(part(card, "sure"), landing !== null && found === null);
  if (landing) {
    set("sure-50", words.distance(landing.radius_50_m));
    set("sure-90", words.distance(landing.radius_90_m));
  }
  set("landing-point", point(place.lat, place.lon));
  set("drive-with", drive.name === "" ? _("choose the map") : _("by {map}", { map: drive.name }));
  const road = drive.road(payload.payload, place.lat, place.lon);
  set("walk", road === null ? "" : onFoot(road, words));
  set("landing-base", landing ? words.from(landing.distance_m, landing.bearing_deg, "base") : "");
  set("landing-plan", planned && landing ? words.from(planned.distance_m, planned.bearing_deg, "plan") : "");
  set("landing-vehicles", vehicles.flatMap((one) => one.to_landing
    .filter(({ payload: name }) => name === payload.payload)
    .map((way) => fromVehicle(one, way, words, contact))).join(" · "));
  const inside = Object.entries(landing?.inside ?? {}).map(([name, share]) => `${name}: ${Math.round(100 * (share ?? 0))} %`);
  const out = inside.length === 0 ? "" : `${_("May come down in {areas}.", { areas: inside.join(", ") })} `;
  set("landing-basis", landing ? `${out}${not_yet ? "" : `${_("From a fix {span} old:", { span: span(contact.since(landing.evidence)) })} `}${landing.basis}` : "");
  const { geo, map } = links(place.lat, place.lon);
  link(part(card, "landing-geo"), geo);
  link(part(card, "landing-map"), map);
}

/** @param {Vehicle} vehicle @param {Vehicle["to_landing"][number]} way @param {Words} words @param {Contact} contact */
function fromVehicle(vehicle, way, words, contact) {
  const age = contact.since(vehicle.time);
  const old = age > 120 ? ` (${ago(age)})` : "";
  const there = way.straight_in_s === null ? ""
    : `, ${_("{span} in a straight line at its speed", { span: span(way.straight_in_s) })}`;
  return `${words.from(way.distance_m, way.bearing_deg, { name: vehicle.vehicle })}${there}${old}`;
}

/** @param {number} s */
function due(s) {
  if (s < 0) return _("due {span} ago", { span: span(-s) });
  return _("in {span}", { span: span(s < 600 ? s : Math.round(s / 60) * 60) });
}

/** @param {number} s */
const ago = (s) => _("{span} ago", { span: span(s) });

/** @param {import("./state").RoadTold} road @param {Words} words */
function onFoot(road, words) {
  const way = { distance: words.distance(road.walk_m), way: compass(road.bearing_deg) };
  return road.name === "" ? _("By the nearest road, then {distance} {way} on foot in a straight line.", way)
    : _("By {road}, then {distance} {way} on foot in a straight line.", { ...way, road: road.name });
}

/** @param {HTMLElement} card @param {Payload} payload @param {Words} words @param {Contact} contact */
export function putFacts(card, payload, words, contact) {
  const { last, phase, instruction } = payload;
  show(card, last !== null);
  if (last === null) return;
  const set = (/** @type {string} */ name, /** @type {string} */ text) => sayOrHide(part(card, name), text);
  // A height that came later and without a place is newer than what the last fix tells.
  const { height: alone } = payload;
  const { altitude_m, agl_m } = alone ?? last;
  const [age, heardAge] = [contact.since(last.time), contact.since((alone ?? last).received)];
  const heightAge = alone ? contact.since(alone.time) : age;
  set("heard", ago(heardAge));
  set("heard-note", alone ? heightAlone(alone, age) : age - heardAge > 30 ? _("The position itself is {span} old.", { span: span(age) }) : "");
  show(part(card, "height-part"), altitude_m !== null);
  const [height, heightUnit] = words.heightParts(altitude_m);
  set("height", height);
  set("height-unit", heightUnit);
  set("agl", agl_m === null ? "" : _("{height} above ground", { height: words.height(agl_m) }));
  const flies = phase !== "prelaunch" && !isDown(instruction);
  const rate = flies ? payload.rate_ms : null;
  const drifts = flies && !alone && last.speed_ms !== null && last.speed_ms > DRIFTS_MS;
  show(part(card, "rate-part"), rate !== null || drifts);
  show(part(card, "pair"), altitude_m !== null || rate !== null || drifts);
  const moving = rate !== null && Math.abs(rate) > LEVEL_MS;
  const word = rate === null ? _("Drift") : moving ? (rate > 0 ? _("Ascending") : _("Descending")) : _("Level");
  set("rate-word", heightAge > OLD_S ? _("{motion} then", { motion: word }) : word);
  set("rate-sign", moving ? (rate > 0 ? "▲" : "▼") : "");
  const [speed, speedUnit] = rate === null ? [drifts ? words.speed(last.speed_ms ?? 0) : "", ""] : words.rateParts(rate);
  set("rate", speed);
  set("rate-unit", speedUnit);
  set("drift", drifts ? driftText(rate === null ? "" : words.speed(last.speed_ms ?? 0), last.course_deg) : "");
  set("last-point", point(last.lat, last.lon));
  set("last-base", words.from(last.distance_m, last.bearing_deg, "base"));
  set("last-by", heardBy(last, words));
  const { geo, map } = links(last.lat, last.lon);
  link(part(card, "last-geo"), geo);
  link(part(card, "last-map"), map);
}

/** @param {NonNullable<Payload["height"]>} alone @param {number} age of the place, in seconds */
function heightAlone(alone, age) {
  const told = { span: span(age) };
  return alone.by_pressure ? _("Only its height is heard, by the pressure of the air; its place is {span} old.", told)
    : _("Only its height is heard; its place is {span} old.", told);
}

/** @param {string} speed "" where it stands elsewhere @param {number | null} course */
function driftText(speed, course) {
  const way = course === null ? "" : compass(course);
  if (speed === "") return way === "" ? _("drifts") : _("drifts to the {way}", { way });
  return way === "" ? _("drifts {speed}", { speed }) : _("drifts {speed} to the {way}", { speed, way });
}

/** @param {NonNullable<Payload["last"]>} last @param {Words} words */
function heardBy(last, words) {
  const more = Object.entries(last.telemetry).map(([name, value]) => reading(name, value, words.feet));
  if (last.satellites !== null) more.unshift(ngettext("{count} satellite", "{count} satellites", last.satellites));
  const { tracker, source } = last;
  return [_("Fix of {time} from {tracker} by {source}", { time: words.exact(last.time), tracker, source }), ...more].join(" · ");
}

/** @param {Payload} payload @param {Words} words @param {Contact} contact */
export function story(payload, words, contact) {
  const { launch, burst, instruction } = payload;
  const told = [];
  if (launch) {
    const time = words.time(launch.time);
    told.push(isDown(instruction) ? _("Launched {time}.", { time })
      : _("Launched {time}, flying {span}.", { time, span: span(contact.since(launch.time)) }));
  }
  if (burst) told.push(_("Burst {time} at {height}.", { time: words.time(burst.time), height: words.height(burst.altitude_m) }));
  return told.join(" ") || _("Not launched yet.");
}

/** @param {HTMLElement} row @param {Source} source @param {Contact} contact */
export function putSource(row, source, contact) {
  const [sign, word] = SOURCES[source.state];
  say(part(row, "sign"), sign);
  say(part(row, "name"), source.name);
  say(part(row, "state"), _("{state} for {span}", { state: word, span: span(contact.since(source.since)) }));
  const heard = source.last_frame === null ? _("nothing heard yet")
    : _("last heard {span} ago", { span: span(contact.since(source.last_frame)) });
  say(part(row, "detail"), [source.kind, framesText(source.frames), heard].join(", "));
  sayOrHide(part(row, "receivers"), source.receivers.length < 2 ? "" : source.receivers.map((one) =>
    `${one.name}: ${number(one.frames)}, ${ago(contact.since(one.last))}`).join(" · "));
  const failed = source.failures === 0 ? [] : [ngettext("failed once", "failed {count} times", source.failures)];
  sayOrHide(part(row, "error"), [...failed, ...trouble(source, contact)].join(" · "));
}

/** @param {number} count */
export const framesText = (count) => ngettext("{count} frame", "{count} frames", count);

/** @param {Source | Target} item @param {Contact} contact */
function trouble(item, contact) {
  const told = [];
  if (item.last_error) told.push(_("last: {trouble}", { trouble: item.last_error }));
  if (item.next_try_s !== null) told.push(_("next try in {span}", { span: span(item.next_try_s - contact.silence) }));
  return told;
}

/** @param {HTMLElement} row @param {Target} target @param {Contact} contact */
export function putTarget(row, target, contact) {
  const stuck = target.waiting > 0;
  say(part(row, "sign"), stuck ? "▲" : "●");
  say(part(row, "name"), target.name);
  const oldest = target.oldest_waiting === null ? ""
    : `, ${_("the oldest for {span}", { span: span(contact.since(target.oldest_waiting)) })}`;
  const counted = (/** @type {number} */ count) => ({ count: number(count) });
  say(part(row, "state"), stuck ? _("{count} waiting", counted(target.waiting)) + oldest : _("nothing waiting"));
  const told = [target.kind, _("{count} delivered", counted(target.delivered))];
  if (target.last_delivered !== null) told.push(_("last {span} ago", { span: span(contact.since(target.last_delivered)) }));
  if (target.uncertain > 0) told.push(_("{count} may have come twice", counted(target.uncertain)));
  if (target.expired > 0) told.push(_("{count} out of date, not sent", counted(target.expired)));
  if (target.failures > 0) told.push(_("{count} given up", counted(target.failures)));
  say(part(row, "detail"), told.filter((text) => text).join(", "));
  sayOrHide(part(row, "error"), stuck || target.last_error ? trouble(target, contact).join(" · ") : "");
}

/** @param {HTMLElement} row @param {Message} message @param {string} refused @param {Words} words @param {Contact} contact */
export function putMessage(row, message, refused, words, contact) {
  say(part(row, "title"), message.title);
  say(part(row, "body"), message.body);
  say(part(row, "when"), `${words.time(message.time)}, ${ago(contact.since(message.time))}`);
  const button = part(row, "seen");
  // Only the newest is spread out, until somebody opens another.
  if (button.dataset.key !== message.key) part(row, "more").open = row === row.parentElement?.firstElementChild;
  button.dataset.key = message.key;
  button.disabled = message.seen;
  say(button, message.seen ? _("✓ Seen") : refused || _("Mark as seen"));
}

// What somebody saw or heard of the flight: told in two touches, listed, and taken back.

import { byId, say, show } from "./dom.js";
import { _ } from "./language.js";
import { post } from "./search.js";
import { point, typed } from "./words.js";

/** @typedef {import("./state").SightingTold} Sighting */
/** @typedef {import("./state").StationSnapshot} State */
/** @typedef {import("./words.js").Words} Words */

const TYPE_IT = _("Type the direction; the browser does not let this page read the phone’s compass.");
const DAY_MIN = 1440;
const AHEAD_MIN = 2; // as much as a watch may be ahead of the station

// As the station takes them.
/** @type {Record<string, [number, number]>} */
const RANGES = { bearing: [0, 360], elevation: [-10, 90], lat: [-90, 90], lon: [-180, 180] };

/** @type {Record<Sighting["kind"], {asks: string, way: boolean, up: boolean, place: boolean}>} */
const KINDS = {
  "launched": { asks: _("The balloon was let go."), way: false, up: false, place: false },
  "burst": { asks: _("The balloon was seen or heard to burst."), way: false, up: false, place: false },
  "seen": { asks: _("Point the back of the phone at it, as for a photo, or type the direction."), way: true, up: true, place: true },
  "not-seen": { asks: _("The sky was clear there, and it is not to be seen."), way: true, up: true, place: true },
  "came-down": { asks: _("It was seen or heard to come down near where you stand."), way: false, up: false, place: true },
  "radio": { asks: _("The direction from which its signal is strongest."), way: true, up: false, place: true },
  "no-flight": { asks: _("What was told is a drive, a test or a tether. Whoever was told of a launch is told that it was none."), way: false, up: false, place: false },
  "nothing-here": { asks: _("You looked around where you stand, and it is not here."), way: false, up: false, place: true },
};

/** Where the back of a phone points, by the angles of the W3C's Device Orientation: [bearing, elevation]
 * in degrees (its worked example on the compass heading; the same rotation gives the elevation).
 * @param {number} alpha @param {number} beta @param {number} gamma @returns {[number, number]} */
export function pointed(alpha, beta, gamma) {
  const [z, x, y] = [alpha, beta, gamma].map((angle) => angle * Math.PI / 180);
  const east = -Math.cos(z) * Math.sin(y) - Math.sin(z) * Math.sin(x) * Math.cos(y);
  const north = -Math.sin(z) * Math.sin(y) + Math.cos(z) * Math.sin(x) * Math.cos(y);
  const up = -Math.cos(x) * Math.cos(y);
  const bearing = (Math.atan2(east, north) * 180 / Math.PI + 360) % 360;
  return [bearing, Math.asin(Math.max(-1, Math.min(1, up))) * 180 / Math.PI];
}

/** The newest moment at which a clock in the station's zone showed this time.
 * @param {string} typed 08:31 or 08:31:20 @param {string} now @param {Words} words @returns {string} */
export function momentOf(typed, now, words) {
  const minutes = (/** @type {string} */ text) => {
    const [h, m, s] = text.split(":").map(Number);
    return h * 60 + m + (s || 0) / 60;
  };
  let ago = minutes(words.exact(now)) - minutes(typed);
  if (ago < -AHEAD_MIN) ago += DAY_MIN;
  if (ago > DAY_MIN - AHEAD_MIN) ago -= DAY_MIN;
  return new Date(Math.round((Date.parse(now) - ago * 60_000) / 1000) * 1000).toISOString();
}

export class Sightings {
  /** @param {import("./crew.js").Me} me @param {() => State | null} newest */
  constructor(me, newest) {
    this.me = me;
    this.newest = newest;
    /** @type {Sighting["kind"] | null} */
    this.kind = null;
    /** @type {Words | null} */
    this.words = null;
    this.listed = "";
    this.typed = false;
    this.compass = (/** @type {any} */ event) => this.turned(event);
    byId("sighting-kinds").addEventListener("click", (/** @type {any} */ event) => {
      const kind = event.target.closest("[data-kind]")?.dataset.kind;
      if (kind) this.choose(kind === this.kind ? null : kind);
    });
    for (const name of ["bearing", "elevation"]) byId(`sighting-${name}`).addEventListener("input", () => { this.typed = true; });
    byId("sighting-cancel").addEventListener("click", () => this.choose(null));
    byId("sighting-tell").addEventListener("click", () => this.tell());
  }

  /** @param {Sighting["kind"] | null} kind */
  choose(kind) {
    this.kind = kind;
    this.typed = false;
    for (const button of byId("sighting-kinds").querySelectorAll("[data-kind]")) {
      button.setAttribute("aria-pressed", String(button.dataset.kind === kind));
    }
    this.listen(false);
    show(byId("sighting-form"), kind !== null);
    say(byId("sighting-says"), "");
    if (kind === null) return;
    const { asks, way, up, place } = KINDS[kind];
    say(byId("sighting-asks"), asks);
    show(byId("sighting-way"), way);
    show(byId("sighting-elevation").parentElement, up);
    show(byId("sighting-place"), place);
    for (const name of ["bearing", "elevation", "at"]) byId(`sighting-${name}`).value = "";
    if (way) this.listen(true);
    if (place) this.me.once((found) => {
      if (found === null) return say(byId("sighting-says"), _("The phone does not tell where it is: type where you stand."));
      [byId("sighting-lat").value, byId("sighting-lon").value] = found.map((angle) => angle.toFixed(5));
    });
  }

  // The phone's compass, where it has one and lets the page read it.
  /** @param {boolean} yes */
  listen(yes) {
    const kinds = ["deviceorientationabsolute", "deviceorientation"];
    for (const kind of kinds) window.removeEventListener(kind, this.compass);
    if (!yes || !window.isSecureContext) return;
    const asked = /** @type {any} */ (window).DeviceOrientationEvent?.requestPermission?.(true);
    const begin = () => kinds.forEach((kind) => window.addEventListener(kind, this.compass));
    if (asked === undefined) begin();
    else asked.then((/** @type {string} */ answer) => (answer === "granted" ? begin() : say(byId("sighting-asks"), TYPE_IT)), () => {});
  }

  /** @param {any} event */
  turned(event) {
    const heading = event.webkitCompassHeading;
    if (this.typed || this.kind === null || (heading === undefined && (!event.absolute || event.alpha === null))) return;
    const [bearing, elevation] = heading === undefined ? pointed(event.alpha, event.beta, event.gamma) : [heading, null];
    byId("sighting-bearing").value = String(Math.round(bearing) % 360);
    if (elevation !== null && elevation >= 0) byId("sighting-elevation").value = String(Math.round(elevation));
    say(byId("sighting-says"), elevation === null
      ? _("By the phone’s compass: lay it flat, its top towards it. Away from cars and magnets.")
      : _("By the phone’s compass and tilt. Away from cars and magnets."));
  }

  async tell() {
    const { kind, words } = this;
    const state = this.newest();
    if (kind === null || state === null || words === null) return;
    const { way, up, place } = KINDS[kind];
    /** @type {Record<string, unknown>} */
    const body = { payload: byId("sighting-payload").value, kind };
    const wanted = { bearing_deg: way ? "bearing" : "", elevation_deg: up ? "elevation" : "", lat: place ? "lat" : "", lon: place ? "lon" : "" };
    for (const [name, field] of Object.entries(wanted)) {
      if (field === "") continue;
      const text = byId(`sighting-${field}`).value;
      const [value, [low, high]] = [typed(text), RANGES[field]];
      if (!(value >= low && value <= high)) {
        if (field === "elevation" && text.trim() === "") continue;
        return say(byId("sighting-says"), field === "bearing" ? _("Give the bearing: 0 is north, 90 east, 180 south, 270 west.")
          : field === "elevation" ? _("Give how far up from the horizon it is, in degrees, or leave it empty.")
          : _("Give where you stand, as degrees such as 47.21346 and 20.65432."));
      }
      body[name] = value;
    }
    const at = byId("sighting-at").value;
    if (at !== "") body.at = momentOf(at, state.now, words);
    byId("sighting-tell").disabled = true;
    const { error, told } = await post("/api/sightings", body);
    byId("sighting-tell").disabled = false;
    if (error) return say(byId("sighting-says"), error);
    this.choose(null);
    say(byId("sighting-says"), kind === "no-flight" ? _("Kept: {what}.", { what: told.words })
      : _("Kept: {what}. The landing estimate counts it now.", { what: told.words }));
  }

  /** @param {State} state @param {Words} words */
  put(state, words) {
    this.words = words;
    const names = state.payloads.map(({ payload }) => payload);
    const choice = byId("sighting-payload");
    if (choice.dataset.names !== names.join()) {
      choice.dataset.names = names.join();
      choice.replaceChildren(...names.map((name) => new Option(name)));
    }
    show(byId("sightings"), names.length > 0);
    show(byId("sighting-whose"), names.length > 1);
    const rows = state.payloads.flatMap(({ payload, sightings }) => sightings.map((one) => ({ payload, one })));
    const listed = JSON.stringify([rows.map(({ one }) => one.number), names.length, words.zone]);
    if (listed === this.listed) return;
    this.listed = listed;
    byId("sighting-rows").replaceChildren(...rows.map(({ payload, one }) => {
      const row = document.createElement("li");
      const whose = names.length > 1 ? `${payload}: ` : "";
      const from = one.lat === null || one.lon === null ? "" : `, ${_("at {place}", { place: point(one.lat, one.lon) })}`;
      row.textContent = `${words.time(one.at)}: ${whose}${one.words}${from}${one.who ? `, ${one.who}` : ""}${one.note ? `. ${one.note}` : ""}`;
      const back = Object.assign(document.createElement("button"), { type: "button", className: "small", textContent: _("Take back") });
      back.addEventListener("click", async () => {
        const { error } = await post("/api/sightings/take-back", { number: one.number });
        say(byId("sighting-says"), error ?? _("Taken back: it counts no more."));
      });
      row.append(" ", back);
      return row;
    }));
  }
}

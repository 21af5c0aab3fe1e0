// The map: the flight, the landing and whoever drives there, over whatever maps there are.

import { kept } from "./dom.js";
import { _, language, number } from "./language.js";
import { away, span } from "./words.js";
import { World } from "./world.js";

const L = /** @type {any} */ (window).L;
const MILE = 1609.344; // m, exact by definition
const FOOT = 0.3048; // m, exact by definition
const DEGREE = 111_195; // m per degree of latitude on the mean sphere
const REFIT_MS = 8000;
const SIGNS = {
  now: "M0-8A8 8 0 1 1 0 8A8 8 0 1 1 0-8Z", landing: "M-8-8 8 8M8-8-8 8", base: "M-8 8V-1L0-9 8-1V8Z",
  vehicle: "M-8-8H8V8H-8Z", me: "M0-10 9 8 0 4-9 8Z", burst: "M0-9 3-3 9 0 3 3 0 9-3 3-9 0-3-3Z",
  launch: "M0-8 8 7H-8Z", next: "M0-9 9 0 0 9-9 0Z", found: "M-8 1-2 7 9-7",
  seen: "M-9 0Q0-10 9 0Q0 10-9 0Z",
  planned: "M-8-2V-8H-2M2-8H8V-2M8 2V8H2M-2 8H-8V2",
};

// A mark with its name beside it; shape and words tell what it is, never colour alone.
function mark(kind, name) {
  const node = document.createElement("div");
  const svg = document.createElementNS("http://www.w3.org/2000/svg", "svg");
  svg.setAttribute("viewBox", "-11 -11 22 22");
  const path = document.createElementNS("http://www.w3.org/2000/svg", "path");
  path.setAttribute("d", SIGNS[kind]);
  svg.append(path);
  const label = document.createElement("span");
  label.textContent = name;
  node.append(svg, label);
  return L.divIcon({ html: node, className: `mark mark-${kind}`, iconSize: [22, 22], iconAnchor: [11, 11] });
}

/** @param {import("./state").Region} region @returns {Array<Array<[number, number]>>} */
const rings = (region) => (region.type === "Polygon" ? [region.coordinates[0]] : region.coordinates.map((p) => p[0]))
  .map((ring) => ring.map(([lon, lat]) => [lat, lon]));

const ONLINE = "online-map";
const LEAST_SIGHT = 3000; // m, own choice: so that a short line still shows its direction
const NINETY = 1.645; // nine tenths of a normal distribution lie within so many deviations
/** @type {Record<import("./state").SightingTold["kind"], string>} */
const SEEN = {
  "launched": _("let go"), "burst": _("burst"), "seen": _("seen from here"), "not-seen": _("not seen from here"),
  "came-down": _("came down here"), "radio": _("signal from here"), "nothing-here": _("not here"), "no-flight": _("no flight"),
};

// The place so far from another in a direction, near enough for a picture.
/** @param {[number, number]} from @param {number} bearing @param {number} m @returns {[number, number]} */
const there = ([lat, lon], bearing, m) => [
  lat + m * Math.cos(bearing * Math.PI / 180) / DEGREE,
  lon + m * Math.sin(bearing * Math.PI / 180) / DEGREE / Math.cos(lat * Math.PI / 180),
];
const RANKS = ["now", "found", "landing", "me", "next", "vehicle", "burst", "launch", "base", "planned", "seen"];

/** @param {number} wanted @returns {number} */
function roundStep(wanted) {
  const ten = 10 ** Math.floor(Math.log10(wanted));
  return ([1, 2, 5, 10].find((n) => n * ten >= wanted) ?? 10) * ten;
}

const WRITTEN = [1, 2, 5, 10, 20, 50, 100, 200, 500, 1000];

// The distances that a person writes, up to four of them that fit: [metres, what they are called].
/** @param {number} least the smaller side of the view in m @param {boolean} feet
 * @returns {Array<[number, string]>} */
export function ringsOf(least, feet) {
  const far = WRITTEN.map((n) => /** @type {[number, string]} */ (feet ? [n * MILE, `${number(n)} mi`] : [n * 1000, `${number(n)} km`]));
  const near = feet
    ? [200, 500, 1000, 2000].map((n) => /** @type {[number, string]} */ ([n * FOOT, `${number(n)} ft`]))
    : [50, 100, 200, 500].map((n) => /** @type {[number, string]} */ ([n, `${n} m`]));
  return [...near, ...far].filter(([m]) => m > least / 25 && m < least).slice(-4);
}

/** @typedef {import("./state").StationSnapshot} State */
/** @typedef {import("./state").PayloadSnapshot} Payload */
/** @typedef {import("./state").Region} Region */
/** @typedef {import("./contact.js").Contact} Contact */
/** @typedef {import("./words.js").Words} Words */

export class FlightMap {
  /** @param {HTMLElement} node */
  constructor(node) {
    /** @type {Words | undefined} */
    this.words = undefined;
    /** @type {[number, number] | null | undefined} */
    this.me = undefined;
    /** @type {[number, number] | undefined} */
    this.base = undefined;
    /** @type {Array<[string, string, [number, number]]>} */
    this.guides = [];
    /** @type {Array<[number, number]>} */
    this.everything = [];
    this.things = "";
    /** @type {((held: boolean) => void) | undefined} */
    this.onHold = undefined;
    /** @type {{feet: boolean, control: any} | undefined} */
    this.scale = undefined;
    /** @type {Set<string>} */
    this.seen = new Set();
    /** @type {Map<string, any>} */
    this.marks = new Map();
    /** @type {Map<string, any>} */
    this.lines = new Map();
    this.map = L.map(node, { zoomControl: false, attributionControl: true, preferCanvas: true, zoomSnap: 0.5, maxZoom: 19 });
    this.map.attributionControl.setPrefix("");
    L.control.zoom({ position: "topright", zoomInTitle: _("Zoom in"), zoomOutTitle: _("Zoom out") }).addTo(this.map);
    this.map.setView([0, 0], 2);
    this.held = false;
    this.fitted = -Infinity;
    for (const pane of ["under", "ground"]) {
      this.map.createPane(pane).style.zIndex = pane === "under" ? 150 : 350;
      this.map.getPane(pane).style.pointerEvents = "none";
    }
    this.net = L.layerGroup().addTo(this.map);
    /** @type {Array<[number, number]>} */
    this.ringed = []; // where the distances of the rings are written
    this.world = new World(this.map, () => this.placeNames());
    this.map.on("dragstart", () => this.hold(true));
    node.addEventListener("wheel", () => this.hold(true), { passive: true });
    node.addEventListener("click", (/** @type {any} */ event) => event.target.closest(".leaflet-control-zoom") && this.hold(true));
    this.map.on("moveend zoomend", () => {
      this.drawNet();
      this.placeNames();
    });
    new ResizeObserver(() => this.map.invalidateSize({ animate: false })).observe(node);
  }

  hold(yes) {
    this.held = yes;
    this.onHold?.(yes);
    if (!yes) this.fit(true);
  }

  /** @param {State} state @param {Contact} contact @param {Words} words */
  put(state, contact, words) {
    this.words = words;
    this.seen = new Set();
    /** @type {Array<[number, number]>} */
    const everything = [];
    const pin = (key, kind, name, place) => {
      this.mark(key, kind, name, place);
      everything.push(place);
    };
    if (state.base !== null) {
      this.base = [state.base.lat, state.base.lon];
      pin("base", "base", _("base"), this.base);
    }
    const several = state.payloads.length > 1;
    for (const payload of state.payloads) {
      const id = payload.payload;
      const track = contact.trail("track", id).map(([, lat, lon]) => /** @type {[number, number]} */ ([lat, lon]));
      const { last, landing, launch, found } = payload;
      const now = last === null ? [] : [[last.lat, last.lon]];
      if (track.length + now.length > 1) this.line(`halo/${id}`, [...track, ...now], { className: "halo", color: css("--paper"), weight: 8, opacity: 0.65 });
      if (track.length + now.length > 1) this.line(`track/${id}`, [...track, ...now], { color: css("--air"), weight: 4 });
      everything.push(...track.filter((_, n) => n % 20 === 0));
      if (launch) pin(`launch/${id}`, "launch", _("launch"), [launch.lat, launch.lon]);
      const top = this.burst(payload, contact.trail("track", id));
      if (top && payload.burst) pin(`burst/${id}`, "burst", _("burst {height}", { height: words.height(payload.burst.altitude_m) }), top);
      if (landing) {
        this.area(`90/${id}`, rings(landing.region_90), { color: css("--earth"), weight: 2.5, dashArray: "8 6", fillOpacity: 0.08 });
        this.area(`50/${id}`, rings(landing.region_50), { color: css("--earth"), weight: 2.5, fillOpacity: 0.3 });
        // While it climbs the estimate wanders far; afterwards each move says something.
        const since = payload.burst ? Date.parse(payload.burst.time) / 1000 : Date.parse(landing.time) / 1000 - 900;
        const moves = contact.trail("moves", id).filter(([t]) => t >= since).map(([, lat, lon]) => [lat, lon]);
        if (moves.length > 0) this.line(`moves/${id}`, [...moves, [landing.lat, landing.lon]], { color: css("--earth"), weight: 2, dashArray: "1 6", lineCap: "round" });
        everything.push(...rings(landing.region_90).flat());
        if (last && payload.phase !== "landed") this.line(`way/${id}`, [[last.lat, last.lon], [landing.lat, landing.lon]], { color: css("--ink"), weight: 1.5, dashArray: "3 7" });
        if (!found) pin(`landing/${id}`, "landing", several ? _("landing {payload}", { payload: id }) : _("landing"), [landing.lat, landing.lon]);
      }
      if (last) pin(`now/${id}`, "now", last.altitude_m === null ? id : `${id} ${words.height(last.altitude_m)}`, [last.lat, last.lon]);
      if (payload.planned && !payload.if_launched) this.mark(`planned/${id}`, "planned", _("planned"), [payload.planned.lat, payload.planned.lon]);
      if (payload.if_launched) {
        const { landing: would, launch: at } = payload.if_launched;
        const thin = { color: css("--earth"), weight: 1.5, dashArray: "2 6", fillOpacity: 0.05 };
        this.area(`90/${id}`, rings(would.region_90), thin);
        this.area(`50/${id}`, rings(would.region_50), thin);
        pin(`if/${id}`, "planned", _("if launched {time}", { time: words.time(at) }), [would.lat, would.lon]);
        everything.push(...rings(would.region_90).flat());
      }
      for (const one of payload.sightings) this.sighting(one, payload);
      if (found) pin(`found/${id}`, "found", _("found"), [found.lat, found.lon]);
    }
    for (const one of state.vehicles) {
      const old = contact.since(one.time);
      pin(`vehicle/${one.vehicle}`, "vehicle", old > 120 ? _("{name}, {span} ago", { name: one.vehicle, span: span(old) }) : one.vehicle, [one.lat, one.lon]);
    }
    if (this.me) pin("me", "me", _("me"), this.me);
    for (const [key, name, place] of this.guides ?? []) pin(key, "next", name, place);
    for (const store of [this.marks, this.lines]) {
      for (const [key, layer] of store) {
        if (this.seen.has(key)) continue;
        layer.remove();
        store.delete(key);
      }
    }
    this.everything = everything;
    this.fit(false);
    this.placeNames();
    const imperial = words.feet;
    if (this.scale?.feet !== imperial) {
      this.scale?.control.remove();
      this.scale = { feet: imperial, control: L.control.scale({ metric: !imperial, imperial, maxWidth: 140 }).addTo(this.map) };
      this.drawNet();
    }
  }

  // A line and a sector of what was seen in a direction, a circle around what was seen at a place.
  /** @param {import("./state").SightingTold} one @param {Payload} payload */
  sighting(one, { last, landing }) {
    if (one.lat === null || one.lon === null) return;
    const here = /** @type {[number, number]} */ ([one.lat, one.lon]);
    this.mark(`seen/${one.number}`, "seen", SEEN[one.kind], here);
    const look = { color: css("--play"), weight: 2.5, fillOpacity: 0.12 };
    const { bearing_deg: bearing } = one;
    if (bearing === null) {
      const radius = one.within_m ?? one.reach_m ?? 0;
      this.area(`around/${one.number}`, [...Array(24).keys()].map((n) => there(here, n * 15, radius)), look);
      return;
    }
    const ends = [last, landing].filter((it) => it !== null).map((it) => away(here, [it.lat, it.lon])[0]);
    const far = Math.max(LEAST_SIGHT, ...ends.map((m) => 1.2 * m));
    const off = one.within_deg ?? NINETY * (one.bearing_sd_deg ?? 0);
    const arc = [-1, -0.5, 0, 0.5, 1].map((share) => there(here, bearing + share * off, far));
    this.area(`sector/${one.number}`, [here, ...arc], { ...look, weight: 1.5, dashArray: one.kind === "not-seen" ? "2 6" : "6 4" });
    if (one.kind !== "not-seen") this.line(`sight/${one.number}`, [here, there(here, bearing, far)], look);
  }

  /** @param {Payload} payload @param {import("./contact.js").Step[]} track @returns {[number, number] | null} */
  burst(payload, track) {
    if (!payload.burst || track.length === 0) return null;
    const at = Date.parse(payload.burst.time) / 1000;
    const near = track.reduce((best, one) => (Math.abs(one[0] - at) < Math.abs(best[0] - at) ? one : best));
    return Math.abs(near[0] - at) < 300 ? [near[1], near[2]] : null;
  }

  // Each name takes the first side of its mark where it covers no mark and no other name; what
  // matters least goes without one where there is no room.
  placeNames() {
    const size = this.map.getSize();
    const marks = [...this.marks].map(([key, one]) => {
      const { x, y } = this.map.latLngToContainerPoint(one.getLatLng());
      return { rank: RANKS.indexOf(key.split("/")[0]), x, y, wide: 8.2 * one.said.length + 4, node: one.getElement() };
    }).filter(({ x, y, node }) => node && x > -20 && x < size.x + 20 && y > -20 && y < size.y + 20);
    marks.sort((a, b) => a.rank - b.rank);
    const taken = marks.map(({ x, y }) => [x - 9, y - 9, x + 9, y + 9]);
    for (const { x, y, wide, node } of marks) {
      const sides = {
        right: [x + 12, y - 9, x + 12 + wide, y + 9], left: [x - 12 - wide, y - 9, x - 12, y + 9],
        above: [x - wide / 2, y - 29, x + wide / 2, y - 11], below: [x - wide / 2, y + 11, x + wide / 2, y + 29],
      };
      const free = ([a, b, c, d]) => a > 0 && c < size.x && taken.every(([e, f, g, h]) => c < e || a > g || d < f || b > h);
      const side = Object.keys(sides).find((one) => free(sides[one])) ?? "nowhere";
      if (side !== "nowhere") taken.push(sides[side]);
      if (node.dataset.side !== side) node.dataset.side = side;
    }
    const rings = this.ringed.map((place) => this.map.latLngToContainerPoint(place)).map(({ x, y }) => [x - 24, y - 20, x + 24, y]);
    this.world.names([...taken, ...rings, [size.x - 64, 0, size.x, 116]]);
  }

  mark(key, kind, name, place) {
    this.seen.add(key);
    const known = this.marks.get(key);
    if (known === undefined) {
      const made = L.marker(place, { icon: mark(kind, name), interactive: false, keyboard: false });
      made.said = name;
      this.marks.set(key, made.addTo(this.map));
      return;
    }
    if (known.said !== name) {
      known.setIcon(mark(kind, name));
      known.said = name;
    }
    if (!known.getLatLng().equals(place)) known.setLatLng(place);
  }

  line(key, places, look) {
    this.shape(key, places, () => L.polyline(places, { ...look, interactive: false, smoothFactor: 1.5 }));
  }

  area(key, places, look) {
    this.shape(key, places, () => L.polygon(places, { ...look, fillColor: look.color, interactive: false }));
  }

  shape(key, places, make) {
    this.seen.add(key);
    const told = JSON.stringify([places.length, places.at(-1), places[0]]);
    const known = this.lines.get(key);
    if (known === undefined) this.lines.set(key, make().addTo(this.map));
    else if (known.told !== told) known.setLatLngs(places);
    this.lines.get(key).told = told;
  }

  // Moves only when something has left the picture or is new, so that it does not jump under the eye.
  fit(now) {
    if (this.held || (this.everything ?? []).length === 0) return;
    const bounds = L.latLngBounds(this.everything).pad(0.06);
    const view = this.map.getBounds();
    const things = [...this.seen].sort().join();
    if (things !== this.things) this.fitted = -Infinity;
    this.things = things;
    const shows = view.contains(bounds) && this.map.getBoundsZoom(bounds) - this.map.getZoom() < 1.5;
    if (!now && (shows || performance.now() - this.fitted < REFIT_MS)) return;
    this.fitted = performance.now();
    this.map.fitBounds(bounds, { animate: false, maxZoom: 16, paddingTopLeft: [18, 24], paddingBottomRight: [96, 24] });
  }

  show(place, zoom = 15) {
    this.hold(true);
    this.map.setView(place, Math.max(this.map.getZoom(), zoom), { animate: false });
  }

  // A net of degrees and rings around the landing: what there always is, also without a map.
  drawNet() {
    const { map, words } = this;
    if (words === undefined) return;
    this.net.clearLayers();
    this.ringed = [];
    const look = { pane: "ground", color: css("--soft"), weight: 1, opacity: 0.55, interactive: false };
    const view = map.getBounds();
    const step = roundStep((view.getEast() - view.getWest()) / 4);
    const text = (place, said, kind) => this.net.addLayer(L.marker(place, {
      icon: L.divIcon({ html: Object.assign(document.createElement("span"), { textContent: said }), className: `net ${kind}`, iconSize: [0, 0] }),
      interactive: false, keyboard: false, pane: "ground",
    }));
    const decimals = Math.max(0, Math.ceil(-Math.log10(step)));
    const [south, north] = [Math.max(-85, view.getSouth()), Math.min(85, view.getNorth())];
    for (let lon = Math.ceil(view.getWest() / step) * step; lon < view.getEast(); lon += step) {
      this.net.addLayer(L.polyline([[south, lon], [north, lon]], look));
      text([north, lon], `${lon.toFixed(decimals)}°`, "net-top");
    }
    for (let lat = Math.ceil(south / step) * step; lat < north; lat += step) {
      this.net.addLayer(L.polyline([[lat, view.getWest()], [lat, view.getEast()]], look));
      text([lat, view.getWest()], `${lat.toFixed(decimals)}°`, "net-left");
    }
    const middle = this.me ?? this.base;
    if (middle === undefined) return;
    const [high, wide] = [view.getNorth() - view.getSouth(), (view.getEast() - view.getWest()) * Math.cos(middle[0] * Math.PI / 180)];
    const least = Math.min(high, wide) * DEGREE;
    for (const [radius, said] of ringsOf(least, words.feet)) {
      this.net.addLayer(L.circle(middle, { ...look, radius, fill: false, dashArray: "2 5" }));
      this.ringed.push([middle[0] + radius / DEGREE, middle[1]]);
      text([middle[0] + radius / DEGREE, middle[1]], said, "net-ring");
    }
  }

  // Areas are hatched at the edge, lines dashed; each says what it is.
  async hazards() {
    const told = await (await fetch("/api/hazards")).json();
    for (const { kind, name, area, parts } of told) {
      const look = { color: css("--hazard"), weight: 2, dashArray: "2 4", fillOpacity: 0.12, interactive: false };
      const made = area ? L.polygon(parts, look) : parts[0].length > 1 ? L.polyline(parts, look) : L.circleMarker(parts[0][0], { ...look, radius: 6 });
      made.addTo(this.map);
      const said = Object.assign(document.createElement("span"), { textContent: name ? `${kind} ${name}` : kind });
      const icon = L.divIcon({ html: said, className: "net net-hazard", iconSize: [0, 0] });
      L.marker(made.getBounds ? made.getBounds().getCenter() : parts[0][0], { icon, interactive: false, keyboard: false, pane: "ground" }).addTo(this.map);
    }
  }

  // Files of maps and shaded terrain; an online map only where a person said yes to it.
  /** @param {HTMLElement} list @param {HTMLElement} box @param {(host: string) => void} ask */
  async layers(list, box, ask) {
    /** @type {import("./state").MapTold[]} */
    const told = await (await fetch("/api/maps")).json();
    const files = told.filter(({ kind, address }) => kind !== "relief" && address.startsWith("/"));
    /** @type {Set<string>} */
    const covers = new Set();
    for (const one of told) {
      const online = one.address.startsWith("https:");
      const layer = await this.layer(one);
      const button = Object.assign(document.createElement("button"), { type: "button", textContent: online ? _("online map") : one.name, className: "small" });
      const set = (/** @type {boolean} */ on) => {
        button.setAttribute("aria-pressed", String(on));
        if (on) layer.addTo(this.map);
        else layer.remove();
        if (one.kind !== "relief") covers[on ? "add" : "delete"](one.name);
        this.world.covered = covers.size > 0;
        this.placeNames();
      };
      button.addEventListener("click", async () => {
        const on = button.getAttribute("aria-pressed") !== "true";
        if (!one.agreed) return ask(new URL(one.address.replace(/[{}]/g, "")).host);
        if (online) kept.set(ONLINE, on ? "on" : "off");
        return set(on);
      });
      set(one.agreed && (online ? kept.get(ONLINE) === "on" : one.kind === "relief" || one === files[0]));
      list.append(button);
    }
    box.hidden = told.length === 0;
  }

  /** @param {import("./state").MapTold} told */
  async layer({ kind, address, attribution, zooms }) {
    const escaped = Object.assign(document.createElement("i"), { textContent: attribution }).innerHTML;
    if (kind === "vector") {
      const maker = await vectorMaps();
      const flavor = matchMedia("(prefers-color-scheme: dark)").matches ? "dark" : "light";
      return maker.leafletLayer({ url: address, flavor, lang: language, pane: "under", attribution: escaped });
    }
    const [least, most] = zooms ?? [0, 19];
    const pane = kind === "relief" ? "tilePane" : "under";
    // Those who give tiles away want to see whose page asks.
    return L.tileLayer(address, { pane, minZoom: least, maxNativeZoom: most, maxZoom: 19, attribution: escaped, referrerPolicy: "origin" });
  }
}

const css = (name) => getComputedStyle(document.documentElement).getPropertyValue(name).trim();

// Fetched only where there is such a map.
function vectorMaps() {
  return new Promise((done, failed) => {
    const script = Object.assign(document.createElement("script"), { src: "/static/protomaps-leaflet.js" });
    script.onload = () => done(/** @type {any} */ (window).protomapsL);
    script.onerror = failed;
    document.head.append(script);
  });
}


// Starts navigation on this phone. The person chooses once with what; the addresses are those that
// each service documents for links to it.

import { byId, kept } from "./dom.js";
import { _ } from "./language.js";
import { away } from "./words.js";

const MOVED_M = 100; // own choice: the nearest road is then another
const AGAIN_MS = 10_000; // own choice: in a fall the point moves each few seconds
const BESIDE_M = 30; // own choice: so near the road is the place

const KEEP = "drive-with";

/** @type {Record<string, [string, (lat: string, lon: string, from: string) => string]>} */
const WAYS = {
  // RFC 5870; the query makes Android's maps drop a pin (its guide, "Common intents").
  phone: [_("This phone’s own map"), (lat, lon) => `geo:${lat},${lon}?q=${lat},${lon}`],
  // "Maps URLs", directions action.
  google: ["Google Maps", (lat, lon) => `https://www.google.com/maps/dir/?api=1&destination=${lat},${lon}&travelmode=driving`],
  // "Map Links".
  apple: ["Apple Maps", (lat, lon) => `https://maps.apple.com/?daddr=${lat},${lon}&dirflg=d`],
  // The web site's own directions: start;end, by car.
  osm: [_("OpenStreetMap’s directions"), (lat, lon, from) => `https://www.openstreetmap.org/directions?engine=fossgis_osrm_car&route=${from};${lat},${lon}`],
};

export class Drive {
  /** @param {() => [number, number] | null} me @param {() => void} changed */
  constructor(me, changed) {
    this.me = me;
    this.changed = changed;
    /** @type {Map<string, {lat: number, lon: number, at: number, road: import("./state").RoadTold | null}>} */
    this.roads = new Map();
    /** @type {HTMLDialogElement} */
    this.dialog = byId("drive");
    /** @type {(() => void) | null} */
    this.then = null;
    for (const [name, [said]] of Object.entries(WAYS)) {
      const button = Object.assign(document.createElement("button"), { type: "button", textContent: said });
      button.addEventListener("click", () => {
        kept.set(KEEP, name);
        this.chosen = name;
        this.dialog.close();
        changed();
        this.then?.();
        this.then = null;
      });
      byId("drive-choices").append(button);
    }
    byId("drive-cancel").addEventListener("click", () => this.dialog.close());
    const before = kept.get(KEEP);
    this.chosen = before in WAYS ? before : "";
  }

  /** The name of what was chosen, or nothing. */
  get name() { return this.chosen === "" ? "" : WAYS[this.chosen][0]; }

  // Asks the station's maps for the nearest road, again once the place has moved; nothing where
  // they have none.
  /** @param {string} of whose place @param {number} lat @param {number} lon
   * @returns {import("./state").RoadTold | null} */
  road(of, lat, lon) {
    const known = this.roads.get(of);
    const still = known !== undefined && away([known.lat, known.lon], [lat, lon])[0] < MOVED_M;
    if (!still && performance.now() - (known?.at ?? -Infinity) > AGAIN_MS) {
      const asked = { lat, lon, at: performance.now(), road: known?.road ?? null };
      this.roads.set(of, asked);
      fetch(`/api/road?lat=${lat.toFixed(5)}&lon=${lon.toFixed(5)}`).then((answer) => answer.json()).then((road) => {
        asked.road = road;
        this.changed();
      }).catch(() => {});
    }
    const road = this.roads.get(of)?.road ?? null;
    return road !== null && road.walk_m >= BESIDE_M ? road : null;
  }

  /** @param {number} lat @param {number} lon */
  address(lat, lon) {
    const me = this.me();
    const from = me === null ? "" : `${me[0].toFixed(5)},${me[1].toFixed(5)}`;
    return this.chosen === "" ? undefined : WAYS[this.chosen][1](lat.toFixed(6), lon.toFixed(6), from);
  }

  /** Asks with what; then does what is wanted with it. @param {(() => void) | null} then */
  ask(then) {
    this.then = then;
    this.dialog.showModal();
  }
}

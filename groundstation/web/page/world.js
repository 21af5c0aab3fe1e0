// The map that is there without any file: coasts, borders, rivers and lakes at small scale, and
// towns by name. Asked of the station, piece by piece, as far as they are looked at.

import { _ } from "./language.js";

const L = /** @type {any} */ (window).L;
const NEAR_ZOOM = 7; // from here on the finer lines: a pixel is then a kilometre
const CELLS = { wide: 20, near: 5 }; // degrees, as the station cuts them
const MOST_CELLS = 40; // own choice: of a desk's screen at the widest
const LARGE = 15_000; // people; own choice: towns that one has heard of
const GRID = 0.25; // own choice: of a view, so that small moves ask for the same towns

/** @type {Record<string, {weight: number, color: string, dashArray?: string}>} */
const LOOKS = {
  coast: { weight: 2, color: "--water" }, lake: { weight: 1.5, color: "--water" },
  river: { weight: 1.5, color: "--water" }, border: { weight: 1.5, color: "--soft", dashArray: "7 3 2 3" },
};

const WHOSE = _("Lines: Natural Earth. Names: GeoNames, CC BY 4.0");

/** @typedef {{name: string, lat: number, lon: number, people: number}} Town */

export class World {
  /** @param {any} map @param {() => void} changed */
  constructor(map, changed) {
    this.map = map;
    this.changed = changed;
    map.createPane("world").style.zIndex = "140";
    map.getPane("world").style.pointerEvents = "none";
    map.attributionControl.addAttribution(WHOSE);
    this.canvas = L.canvas({ pane: "world", padding: 0.3 });
    /** @type {Map<string, any>} */
    this.cells = new Map();
    /** @type {Town[]} */
    this.towns = [];
    this.asked = "";
    this.covered = false; // by a map that has names of its own
    this.labels = L.layerGroup().addTo(map);
    this.wanted = new Set();
    map.on("moveend zoomend", () => this.look());
  }

  look() {
    const view = this.map.getBounds();
    const kind = this.map.getZoom() >= NEAR_ZOOM ? "near" : "wide";
    const size = CELLS[kind];
    const last = { row: 180 / size - 1, column: 360 / size };
    const wanted = [];
    for (let row = Math.max(0, Math.floor((view.getSouth() + 90) / size)); row <= Math.min(last.row, Math.floor((view.getNorth() + 90) / size)); row++) {
      for (let at = Math.floor((view.getWest() + 180) / size); at <= Math.floor((view.getEast() + 180) / size); at++) {
        wanted.push([row, at]);
      }
    }
    if (wanted.length > MOST_CELLS) return;
    const keys = wanted.map(([row, at]) => `${kind}/${row}/${at}`);
    this.wanted = new Set(keys);
    for (const [key, layer] of this.cells) {
      if (this.wanted.has(key)) continue;
      layer?.remove();
      this.cells.delete(key);
    }
    for (const [n, key] of keys.entries()) if (!this.cells.has(key)) this.fetchCell(key, kind, wanted[n], last.column);
    this.fetchTowns(view);
  }

  /** @param {string} key @param {string} kind @param {number[]} cell row and column
   * @param {number} columns */
  async fetchCell(key, kind, [row, at], columns) {
    this.cells.set(key, null);
    const column = ((at % columns) + columns) % columns;
    const turn = 360 * Math.floor(at / columns); // a view may go round the world
    try {
      const told = await (await fetch(`/maps/world/${kind}/${row}/${column}`)).json();
      if (!this.wanted.has(key)) return;
      const group = L.layerGroup();
      for (const [name, look] of Object.entries(LOOKS)) {
        const lines = told[name].map((/** @type {number[][]} */ line) => line.map(([lat, lon]) => [lat, lon + turn]));
        if (lines.length === 0) continue;
        group.addLayer(L.polyline(lines, { ...look, color: css(look.color), renderer: this.canvas, pane: "world", interactive: false, smoothFactor: 1 }));
      }
      this.cells.set(key, group.addTo(this.map));
    } catch {
      this.cells.delete(key);
    }
  }

  // Names where they cover neither marks nor each other, the largest towns first.
  /** @param {number[][]} taken boxes in pixels that are used already */
  names(taken) {
    this.labels.clearLayers();
    if (this.covered) return;
    const size = this.map.getSize();
    for (const { name, lat, lon, people } of this.towns) {
      const { x, y } = this.map.latLngToContainerPoint([lat, lon]);
      const wide = 7 * name.length + 14;
      const box = [x - 4, y - 9, x + wide, y + 9];
      if (x < 0 || y < 0 || x + wide > size.x || y > size.y) continue;
      if (taken.some(([a, b, c, d]) => box[2] > a && box[0] < c && box[3] > b && box[1] < d)) continue;
      taken.push(box);
      const node = Object.assign(document.createElement("span"), { textContent: name });
      const icon = L.divIcon({ html: node, className: `town${people > LARGE ? " town-large" : ""}`, iconSize: [0, 0] });
      this.labels.addLayer(L.marker([lat, lon], { icon, interactive: false, keyboard: false, pane: "ground" }));
    }
  }

  /** @param {any} view */
  async fetchTowns(view) {
    const step = Math.max(0.05, roughly(GRID * (view.getNorth() - view.getSouth())));
    const west = Math.floor(view.getWest() / step) * step;
    const east = Math.ceil(view.getEast() / step) * step;
    const wrap = (/** @type {number} */ lon) => ((lon + 180) % 360 + 360) % 360 - 180;
    const whole = east - west >= 360;
    const box = {
      south: Math.max(-90, Math.floor(view.getSouth() / step) * step), north: Math.min(90, Math.ceil(view.getNorth() / step) * step),
      west: whole ? -180 : wrap(west), east: whole ? 180 : wrap(east),
    };
    const query = new URLSearchParams(Object.entries(box).map(([name, value]) => [name, value.toFixed(4)])).toString();
    if (query === this.asked) return;
    this.asked = query;
    try {
      const towns = await (await fetch(`/api/towns?${query}`)).json();
      if (query !== this.asked) return;
      this.towns = towns;
      this.changed();
    } catch {
      this.asked = "";
    }
  }
}

/** @param {number} wanted a power of two near it @returns {number} */
const roughly = (wanted) => 2 ** Math.round(Math.log2(wanted));

const css = (/** @type {string} */ name) => getComputedStyle(document.documentElement).getPropertyValue(name).trim();

// Listens to the station, keeps its state and its tracks, and knows how old they are.

import { _ } from "./language.js";

const PATIENCE_MS = 6000;
const AGAIN_MS = 2000;
const KEEP = "last-state-2"; // another number where what is kept has another form
const KEEP_EVERY_MS = 10_000;
export const LOST_AFTER_S = 6;

/** @typedef {import("./state").StationSnapshot} State */
/** @typedef {[number, number, number, number | null]} Step time in s, latitude, longitude, m */

export class Contact {
  /** @param {() => void} onState */
  constructor(onState) {
    this.onState = onState;
    /** @type {State | null} */
    this.state = null;
    /** @type {Map<string, Step[]>} */
    this.trails = new Map();
    this.known = "";
    this.opened = this.moment();
    this.asked = this.opened;
    this.trouble = "";
    this.stored = false;
    this.recall();
    document.addEventListener("visibilitychange", () => document.hidden || this.hurry());
    window.addEventListener("online", () => this.hurry());
    this.listen();
    setInterval(() => this.silence * 1000 > PATIENCE_MS && this.hurry(), AGAIN_MS);
  }

  moment() { return { steady: performance.now(), wall: Date.now() }; }

  // The steady clock stops while some phones sleep and the wall clock may be set back: the
  // larger of the two never makes old look new.
  secondsSince(then) {
    const now = this.moment();
    return Math.max(0, now.steady - then.steady, now.wall - then.wall) / 1000;
  }

  // Real seconds since the station was last heard; since the page was opened where it was not.
  get silence() { return this.secondsSince(this.asked); }

  get lost() { return this.stored || this.silence > LOST_AFTER_S; }

  // How far the station's clock has gone since it was last heard.
  get drift() { return this.state === null ? 0 : this.silence * (this.state.speed ?? 1); }

  // Seconds of the station's time since then, or until then where that is negative.
  /** @param {string} iso */
  since(iso) {
    return this.state === null ? 0 : (Date.parse(this.state.now) - Date.parse(iso)) / 1000 + this.drift;
  }

  hurry() {
    if (this.silence * 1000 > PATIENCE_MS) this.listen();
  }

  listen() {
    this.stream?.close();
    const after = this.known === "" ? "" : `?after=${encodeURIComponent(this.known)}`;
    const stream = new EventSource(`/api/stream${after}`);
    this.stream = stream;
    const on = (name, take) => stream.addEventListener(name, (event) => {
      take(JSON.parse(event.data));
      if (event.lastEventId === "") return;
      this.known = event.lastEventId;
      this.asked = this.moment();
      this.trouble = "";
      this.stored = false;
      if (this.state === null) return;
      this.keep();
      this.onState();
    });
    on("state", (state) => { this.bare = state; this.state = shown(state); });
    on("change", (change) => { merge(this.bare, change); this.state = shown(this.bare); });
    on("trail", (piece) => this.add(piece));
    stream.onerror = () => {
      this.trouble = _("the connection broke");
      stream.close();
      clearTimeout(this.again);
      this.again = setTimeout(() => this.listen(), AGAIN_MS);
      this.askWhy();
    };
  }

  // A stream does not tell why it ends; a session that is over does.
  async askWhy() {
    const answer = await fetch("/api/health", { cache: "no-store" }).catch(() => null);
    if (answer?.status === 401) location.assign("/login");
  }

  add({ payload, trail, anew, points }) {
    const name = `${trail} ${payload}`;
    const all = anew ? [] : this.trails.get(name) ?? [];
    all.push(...points);
    all.sort((a, b) => a[0] - b[0]);
    this.trails.set(name, all);
  }

  /** @param {"track" | "moves"} kind @param {string} payload */
  trail(kind, payload) { return this.trails.get(`${kind} ${payload}`) ?? []; }

  // So that an app without a network shows what was last known, as old.
  keep() {
    if (Date.now() - (this.kept ?? 0) < KEEP_EVERY_MS) return;
    this.kept = Date.now();
    try {
      const trails = [...this.trails];
      localStorage.setItem(KEEP, JSON.stringify({ wall: Date.now(), bare: this.bare, trails }));
    } catch { /* no room, or not allowed: then there is nothing to show later */ }
  }

  recall() {
    try {
      const { wall, bare, trails } = JSON.parse(localStorage.getItem(KEEP) ?? "");
      this.bare = bare;
      this.state = shown(bare);
      this.trails = new Map(trails);
      this.asked = { steady: performance.now() - Math.max(0, Date.now() - wall), wall };
      this.stored = true;
    } catch { /* nothing was kept */ }
  }
}

function merge(known, change) {
  for (const [name, value] of Object.entries(change)) {
    const old = known[name];
    const inside = (one) => one !== null && typeof one === "object";
    if (inside(value) && inside(old) && !Array.isArray(value)) {
      merge(old, value);
      if (name === "telemetry") for (const one of Object.keys(old)) if (old[one] === null) delete old[one];
    } else known[name] = value;
  }
}

// Alerts come under their keys; those that were taken away are null.
function shown(bare) {
  const messages = Object.values(bare.messages).filter((one) => one !== null);
  messages.sort((a, b) => (a.time < b.time ? 1 : a.time > b.time ? -1 : 0));
  return { ...bare, messages };
}

/** @param {number} lat @param {number} lon */
export function links(lat, lon) {
  const place = `${lat.toFixed(6)},${lon.toFixed(6)}`;
  const web = `?mlat=${lat.toFixed(6)}&mlon=${lon.toFixed(6)}#map=14/${lat.toFixed(5)}/${lon.toFixed(5)}`;
  return { geo: `geo:${place}?q=${place}`, map: `https://www.openstreetmap.org/${web}` };
}

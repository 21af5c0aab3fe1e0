// Numbers and times as a person reads them. Everything in is SI; what is not known is null.

import { _, clock, number } from "./language.js";

const FOOT = 0.3048; // m, exact by definition
const MILE = 1609.344; // m, exact by definition
const BESIDE = 100; // m, nearer than this a direction helps nobody; as the station has it
const AT = 20; // m, own choice: where a direction is told with its degrees
const POINTS = [_("N"), _("NNE"), _("NE"), _("ENE"), _("E"), _("ESE"), _("SE"), _("SSE"),
  _("S"), _("SSW"), _("SW"), _("WSW"), _("W"), _("WNW"), _("NW"), _("NNW")];

/** From where: this phone, the base, the planned landing, or what has a name.
 * @typedef {"you" | "base" | "plan" | {name: string}} Start */

// Numbers and units stay on one line.
const joined = (value, unit) => `${value}\u00a0${unit}`;
const together = (text) => text.replaceAll(" ", "\u00a0");

export class Words {
  constructor(units, timezone) {
    this.units = units;
    this.feet = units === "feet-miles";
    this.timezone = timezone;
    this.zone = timezone;
    try {
      clock({}, timezone);
    } catch {
      this.zone = "UTC";
    }
    this.clock = clock({}, this.zone);
    this.seconds = clock({ second: "2-digit" }, this.zone);
  }

  height(m) {
    return m === null ? _("unknown") : joined(...this.heightParts(m));
  }

  heightParts(m) {
    if (m === null) return ["?", ""];
    return this.feet ? [number(m / FOOT), "ft"] : [number(m), "m"];
  }

  distance(m) {
    if (m === null) return _("unknown");
    if (this.feet) {
      if (m < 0.2 * MILE) return joined(number(m / FOOT), "ft");
      return joined(number(m / MILE, m < 100 * MILE ? 1 : 0), "mi");
    }
    if (m < 1000) return joined(number(m), "m");
    return joined(number(m / 1000, m < 100e3 ? 1 : 0), "km");
  }

  // How fast over the ground, as a car tells it.
  speed(ms) {
    return this.feet ? joined(number(ms * 3600 / MILE), "mph") : joined(number(ms * 3.6), "km/h");
  }

  // A short length that a person types: in m or ft, and back.
  get shortUnit() { return this.feet ? "ft" : "m"; }

  short(m) { return Math.round(this.feet ? m / FOOT : m); }

  shortToM(value) { return this.feet ? value * FOOT : value; }

  rateParts(ms) {
    const size = Math.abs(ms);
    return this.feet ? [number(size * 60 / FOOT), "ft/min"] : [number(size, 1), "m/s"];
  }

  time(iso) { return iso === null ? "?" : this.clock.format(Date.parse(iso)); }

  exact(iso) { return iso === null ? "?" : this.seconds.format(Date.parse(iso)); }

  // Without degrees, where it is read in passing.
  /** @param {number} m @param {number} bearing @param {Start} start @param {number} [near] */
  shortFrom(m, bearing, start, near = BESIDE) {
    const way = { distance: this.distance(m), way: compass(bearing) };
    const beside = m < near;
    if (start === "you") return beside ? _("where you are") : _("{distance} {way} of you", way);
    if (start === "base") return beside ? _("where base is") : _("{distance} {way} of base", way);
    if (start === "plan") return beside ? _("at the planned point") : _("{distance} {way} of the plan", way);
    return beside ? _("where {name} is", start) : _("{distance} {way} of {name}", { ...way, ...start });
  }

  /** @param {number | null} m @param {number | null} bearing @param {Start} start */
  from(m, bearing, start) {
    if (m === null || bearing === null) return "";
    const told = this.shortFrom(m, bearing, start, AT);
    return m < AT ? told : `${told} (${Math.round(bearing) % 360}°)`;
  }
}

export const compass = (bearing) => POINTS[Math.round(bearing / 22.5) % 16];

export const point = (lat, lon) => `${lat.toFixed(5)}, ${lon.toFixed(5)}`;

// What a person typed, with a comma or a point; NaN where it is no number.
/** @param {string} text @returns {number} */
export const typed = (text) => (text.trim() === "" ? NaN : Number(text.trim().replace(",", ".")));

/** @param {number} lat @param {number} lon */
export const isPlace = (lat, lon) => Math.abs(lat) <= 90 && Math.abs(lon) <= 180;

// How long, in the two largest units that say something.
export function span(s) {
  const whole = Math.max(0, Math.floor(s));
  const two = (n) => String(n).padStart(2, "0");
  if (whole < 60) return together(_("{seconds} s", { seconds: whole }));
  const minutes = Math.floor(whole / 60);
  if (minutes >= 10 && minutes < 60) return together(_("{minutes} min", { minutes }));
  if (minutes < 60) return together(_("{minutes} min {seconds} s", { minutes, seconds: two(whole % 60) }));
  const hours = Math.floor(minutes / 60);
  if (hours < 48) return together(_("{hours} h {minutes} min", { hours, minutes: two(minutes % 60) }));
  return together(_("{days} d {hours} h", { days: Math.floor(hours / 24), hours: hours % 24 }));
}

// Great circle on the mean sphere (haversine), and the bearing at its begin: within 0.6 % of the
// ellipsoid, which is less than a screen shows.
const EARTH = 6_371_008.8; // m, mean radius (IUGG)
const RAD = Math.PI / 180;

/** @param {[number, number]} from @param {[number, number]} to @returns {[number, number]} m, degrees */
export function away([lat0, lon0], [lat1, lon1]) {
  const [a, b, turn] = [lat0 * RAD, lat1 * RAD, (lon1 - lon0) * RAD];
  const h = Math.sin((b - a) / 2) ** 2 + Math.cos(a) * Math.cos(b) * Math.sin(turn / 2) ** 2;
  const bearing = Math.atan2(Math.sin(turn) * Math.cos(b), Math.cos(a) * Math.sin(b) - Math.sin(a) * Math.cos(b) * Math.cos(turn));
  return [2 * EARTH * Math.asin(Math.min(1, Math.sqrt(h))), (bearing / RAD + 360) % 360];
}

// What trackers measure, as their decoders name it; others are shown as they are.
/** @type {Record<string, string>} */
const MEASURED = {
  battery: _("battery"), temperature: _("temperature"), humidity: _("humidity"), pressure: _("pressure"),
};

/** @param {string} name @returns {string} */
export const measured = (name) => MEASURED[name] ?? name.replaceAll("_", " ");

// A name such as battery_v carries its unit; show it as words and a number.
/** @param {string} name @param {number | null} value @param {boolean} feet */
export function reading(name, value, feet = false) {
  const units = { v: "V", a: "A", c: "°C", degc: "°C", pa: "hPa", hpa: "hPa", k: "°C", percent: "%", m: "m", ms: "m/s", s: "s", db: "dB", dbm: "dBm" };
  const scale = { pa: (x) => x / 100, k: (x) => x - 273.15 };
  if (feet) {
    Object.assign(units, { c: "°F", degc: "°F", k: "°F", m: "ft", ms: "mph" });
    const fahrenheit = (x) => x * 1.8 + 32;
    Object.assign(scale, { c: fahrenheit, degc: fahrenheit, k: (x) => fahrenheit(x - 273.15), m: (x) => x / FOOT, ms: (x) => x * 3600 / MILE });
  }
  const cut = name.lastIndexOf("_");
  const unit = cut > 0 ? name.slice(cut + 1) : "";
  const known = Object.hasOwn(units, unit);
  const label = measured(known ? name.slice(0, cut) : name);
  if (value === null) return _("{name} unknown", { name: label });
  const shown = Object.hasOwn(scale, unit) ? scale[unit](value) : value;
  const text = number(shown, 0, 2);
  return known ? `${label} ${joined(text, units[unit])}` : `${label} ${text}`;
}

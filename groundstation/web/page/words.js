// Numbers and times as a person reads them. Everything in is SI; what is not known is null.

const FOOT = 0.3048; // m, exact by definition
const MILE = 1609.344; // m, exact by definition
const BESIDE = 100; // m, nearer than this a direction helps nobody; as the station has it
const POINTS = ["N", "NNE", "NE", "ENE", "E", "ESE", "SE", "SSE",
  "S", "SSW", "SW", "WSW", "W", "WNW", "NW", "NNW"];

const grouped = (value, decimals = 0) =>
  value.toLocaleString("en-GB", { minimumFractionDigits: decimals, maximumFractionDigits: decimals });

// Numbers and units stay on one line.
const joined = (number, unit) => `${number}\u00a0${unit}`;

export class Words {
  constructor(units, timezone) {
    this.units = units;
    this.feet = units === "feet-miles";
    this.timezone = timezone;
    const clock = { hour: "2-digit", minute: "2-digit", hourCycle: "h23" };
    const form = (more, zone) => new Intl.DateTimeFormat("en-GB", { ...clock, ...more, timeZone: zone });
    this.zone = timezone;
    try {
      form({}, timezone);
    } catch {
      this.zone = "UTC";
    }
    this.clock = form({}, this.zone);
    this.seconds = form({ second: "2-digit" }, this.zone);
  }

  height(m) {
    return m === null ? "unknown" : joined(...this.heightParts(m));
  }

  heightParts(m) {
    if (m === null) return ["?", ""];
    return this.feet ? [grouped(m / FOOT), "ft"] : [grouped(m), "m"];
  }

  distance(m) {
    if (m === null) return "unknown";
    if (this.feet) {
      if (m < 0.2 * MILE) return joined(grouped(m / FOOT), "ft");
      return joined(grouped(m / MILE, m < 100 * MILE ? 1 : 0), "mi");
    }
    if (m < 1000) return joined(grouped(m), "m");
    return joined(grouped(m / 1000, m < 100e3 ? 1 : 0), "km");
  }

  // How fast over the ground, as a car tells it.
  speed(ms) {
    return this.feet ? joined(grouped(ms * 3600 / MILE), "mph") : joined(grouped(ms * 3.6), "km/h");
  }

  // A short length that a person types: in m or ft, and back.
  get shortUnit() { return this.feet ? "ft" : "m"; }

  short(m) { return Math.round(this.feet ? m / FOOT : m); }

  shortToM(value) { return this.feet ? value * FOOT : value; }

  rateParts(ms) {
    const size = Math.abs(ms);
    return this.feet ? [grouped(size * 60 / FOOT), "ft/min"] : [grouped(size, 1), "m/s"];
  }

  time(iso) { return iso === null ? "?" : this.clock.format(Date.parse(iso)); }

  exact(iso) { return iso === null ? "?" : this.seconds.format(Date.parse(iso)); }

  // Without degrees, where it is read in passing.
  /** @param {number} m @param {number} bearing @param {string} place */
  shortFrom(m, bearing, place) {
    if (m < BESIDE) return place === "you" ? "where you are" : `where ${place} is`;
    return `${this.distance(m)} ${compass(bearing)} of ${place}`;
  }

  fromBase(m, bearing) { return this.fromPlace(m, bearing, "base"); }

  fromPlace(m, bearing, place) {
    if (m === null || bearing === null) return "";
    if (m < 20) return `at ${place}`;
    return `${this.distance(m)} ${compass(bearing)} of ${place} (${Math.round(bearing) % 360}°)`;
  }
}

export const compass = (bearing) => POINTS[Math.round(bearing / 22.5) % 16];

export const point = (lat, lon) => `${lat.toFixed(5)}, ${lon.toFixed(5)}`;

// How long, in the two largest units that say something.
export function span(s) {
  const whole = Math.max(0, Math.floor(s));
  const two = (n) => String(n).padStart(2, "0");
  if (whole < 60) return joined(whole, "s");
  const min = Math.floor(whole / 60);
  if (min >= 10 && min < 60) return joined(min, "min");
  if (min < 60) return `${joined(min, "min")} ${joined(two(whole % 60), "s")}`;
  const h = Math.floor(min / 60);
  if (h < 48) return `${joined(h, "h")} ${joined(two(min % 60), "min")}`;
  return `${joined(Math.floor(h / 24), "d")} ${joined(h % 24, "h")}`;
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
  const label = (known ? name.slice(0, cut) : name).replaceAll("_", " ");
  if (value === null) return `${label} unknown`;
  const shown = Object.hasOwn(scale, unit) ? scale[unit](value) : value;
  const text = shown.toLocaleString("en-GB", { maximumFractionDigits: 2 });
  return known ? `${label} ${joined(text, units[unit])}` : `${label} ${text}`;
}

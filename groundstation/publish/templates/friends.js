const EVERY_MS = 30000;
const WIDE = 600, HIGH = 360, EDGE = 20;
const { words, state: address } = document.body.dataset;
const say = JSON.parse(words);
const { lang } = document.documentElement;
const language = lang === "en" ? "en-GB" : lang;
const byId = (id) => document.getElementById(id);
const put = (text, given) => text.replace(/\{(\w+)\}/g, (_, name) => given[name]);
const number = (value, digits = 0) => value.toLocaleString(language, { maximumFractionDigits: digits });
const clock = (iso) => new Date(iso).toLocaleTimeString(language, { hour: "2-digit", minute: "2-digit" });

function made(tag, content, more = {}) {
  const node = document.createElement(tag);
  Object.assign(node, more);
  node.append(...[content].flat());
  return node;
}

function drawn(tag, attributes, text = "") {
  const node = document.createElementNS("http://www.w3.org/2000/svg", tag);
  for (const [name, value] of Object.entries(attributes)) node.setAttribute(name, value);
  node.textContent = text;
  return node;
}

function rows(flight) {
  const list = document.createElement("dl");
  const row = (name, text) => text && list.append(made("dt", name), made("dd", text));
  const km = (value) => value == null ? "" : `${number(value / 1000, 1)} km`;
  row(say.height, flight.over ? "" : km(flight.height_m));
  row(say.highest, km(flight.highest_m));
  row(say.launched, flight.launched && clock(flight.launched));
  row(say.heard, flight.heard && clock(flight.heard));
  const { landing } = flight;
  if (landing) row(say.landing, `${clock(landing.eta)}, ${put(say.within, { km: number(landing.radius_m / 1000, 1) })}`);
  return list;
}

/* A plain map to scale: degrees of longitude shrink with the cosine of the latitude. */
function map(flight, blur) {
  const { track = [], landing } = flight;
  if (track.length === 0) return [];
  const shrink = Math.cos(track[0][0] * Math.PI / 180);
  const [lat0, lon0] = track[0];
  const metres = ([lat, lon]) => [((lon - lon0 + 540) % 360 - 180) * 111195 * shrink, (lat - lat0) * 111195];
  const points = track.map(metres);
  const here = metres([flight.lat, flight.lon]);
  const aim = landing && metres([landing.lat, landing.lon]);
  const half = blur / 2;
  const xs = [...points.map(([x]) => x), here[0] - half, here[0] + half], ys = [...points.map(([, y]) => y), here[1] - half, here[1] + half];
  if (aim) xs.push(aim[0] - landing.radius_m, aim[0] + landing.radius_m), ys.push(aim[1] - landing.radius_m, aim[1] + landing.radius_m);
  const [west, east, south, north] = [Math.min(...xs), Math.max(...xs), Math.min(...ys), Math.max(...ys)];
  const scale = Math.min((WIDE - 2 * EDGE) / Math.max(east - west, 1000), (HIGH - 3 * EDGE) / Math.max(north - south, 1000));
  const x = (value) => WIDE / 2 + (value - (west + east) / 2) * scale;
  const y = (value) => HIGH / 2 - (value - (south + north) / 2) * scale;
  const svg = drawn("svg", { viewBox: `0 0 ${WIDE} ${HIGH}`, role: "img", "aria-label": say.map });
  if (aim) svg.append(drawn("circle", { class: "land", cx: x(aim[0]), cy: y(aim[1]), r: landing.radius_m * scale }));
  svg.append(drawn("polyline", { class: "way", points: points.map(([a, b]) => `${x(a).toFixed(1)},${y(b).toFixed(1)}`).join(" ") }));
  const side = Math.max(blur * scale, 8);
  svg.append(drawn("rect", { class: "here", x: x(here[0]) - side / 2, y: y(here[1]) - side / 2, width: side, height: side }));
  const long = [0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50, 100, 200, 500].filter((km) => km * 1000 * scale < WIDE / 3).at(-1) ?? 0.1;
  svg.append(drawn("line", { class: "bar", x1: EDGE, x2: EDGE + long * 1000 * scale, y1: HIGH - 8, y2: HIGH - 8 }));
  svg.append(drawn("text", { x: EDGE, y: HIGH - 14 }, `${number(long, 1)} km`), drawn("text", { x: WIDE - EDGE - 24, y: EDGE }, "N ↑"));
  return [svg];
}

function card(flight, blur) {
  const parts = [made("h2", `${flight.payload}: ${say[flight.phase] ?? flight.phase}`), rows(flight)];
  if (flight.over) parts.push(made("p", say.over));
  else {
    parts.push(...map(flight, blur));
    const place = flight.landing ?? (flight.lat === undefined ? null : flight);
    if (place) parts.push(made("p", made("a", say.map, { rel: "noopener", href: `https://www.openstreetmap.org/?mlat=${Number(place.lat)}&mlon=${Number(place.lon)}#map=10/${Number(place.lat)}/${Number(place.lon)}` })));
  }
  return made("section", parts);
}

async function look() {
  const answer = await fetch(address, { cache: "no-store" }).catch(() => null);
  const told = answer?.ok ? await answer.json().catch(() => null) : null;
  if (told === null) return void (byId("says").textContent = say.away);
  const minutes = Math.floor((Date.now() - Date.parse(told.made)) / 60000);
  const old = !told.over && !told.rehearsal && minutes > 5 ? put(say.old, { minutes: number(minutes) }) : "";
  byId("says").textContent = [told.rehearsal ? say.rehearsal : "", old].filter(Boolean).join(" ");
  byId("flights").replaceChildren(...told.flights.length === 0 ? [made("p", say.nothing)] : told.flights.map((flight) => card(flight, told.blur_m)));
  byId("late").textContent = put(say.late, { minutes: number(told.delay_s / 60), km: number(told.blur_m / 1000, 1) });
}

look();
setInterval(look, EVERY_MS);

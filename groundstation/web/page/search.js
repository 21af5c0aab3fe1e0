// The search: where to look next, what was done, and what was found. Text goes in as textContent.

import { part } from "./dom.js";
import { _, number } from "./language.js";
import { compass, isPlace, point, typed } from "./words.js";

const L = /** @type {any} */ (window).L;
const LEAST = { silent: _("heard nothing"), heard: _("heard it"), searched: _("saw nothing") };
const [LEAST_REACH, MOST_REACH] = [5, 50_000]; // m, as the station takes them
const CONDITIONS = { whole: _("whole"), damaged: _("damaged"), parts: _("in parts"), lost: _("not found, given up") };
const button = (node, name) => node.querySelector(`[data-do="${name}"]`);

export async function post(address, body) {
  const answer = await fetch(address, {
    method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(body),
  }).catch(() => null);
  if (answer === null) return { error: _("No answer: try again where there is a network."), unheard: true };
  if (answer.status === 403) return { error: _("You may look only.") };
  if (!answer.ok) return { error: (await answer.text()).trim() || _("The station said {status}.", { status: answer.status }) };
  return { told: await answer.json() };
}

export class Search {
  /** @param {HTMLDetailsElement} details @param {HTMLElement} body @param {HTMLTemplateElement} template
   * @param {import("./map.js").FlightMap} flightMap @param {import("./crew.js").Me} me */
  constructor(details, body, template, flightMap, me) {
    this.details = details;
    this.body = body;
    this.template = template;
    this.flightMap = flightMap;
    this.me = me;
    /** @type {{card: any, name: string, how: string, places: Array<[number, number]>, line?: any} | null} */
    this.drawing = null;
    /** @type {import("./state").StationSnapshot | null} */
    this.state = null;
    /** @type {any} */
    this.words = null;
    /** @type {Map<string, any>} */    this.cards = new Map();
    this.shapes = L.layerGroup();
    details.addEventListener("toggle", () => this.opened());
    flightMap.map.on("click", (event) => this.tapped(event.latlng));
  }

  get open() { return this.details.open; }

  opened() {
    if (this.open) this.shapes.addTo(this.flightMap.map);
    else {
      this.shapes.remove();
      this.flightMap.guides = [];
    }
    this.again();
  }

  /** @param {import("./state").StationSnapshot} state @param {import("./words.js").Words} words */
  put(state, words) {
    this.words = words;
    this.state = state;
    for (const payload of state.payloads) {
      if (!this.cards.has(payload.payload)) this.cards.set(payload.payload, this.card(payload.payload));
    }
    const wanted = state.payloads.map(({ landing }) => landing?.time).join();
    if (this.open && wanted !== this.wanted) this.again();
    this.wanted = wanted;
  }

  card(name) {
    /** @type {any} */
    const card = this.template.content.firstElementChild?.cloneNode(true);
    part(card, "name").textContent = name;
    this.body.append(card);
    const usual = () => {
      const { reach_m, chance } = this.usual?.[part(card, "kind").value] ?? { reach_m: 1500, chance: 0.7 };
      part(card, "reach").value = this.words.short(reach_m);
      part(card, "reach-unit").textContent = this.words.shortUnit;
      part(card, "chance").value = Math.round(chance * 100);
    };
    part(card, "kind").addEventListener("change", usual);
    card.usual = usual;
    const on = (what, act) => button(card, what).addEventListener("click", act);
    on("copy", () => this.copy(card));
    on("copy-notice", async () => {
      const done = await navigator.clipboard?.writeText(part(card, "notice").textContent).then(() => true, () => false);
      button(card, "copy-notice").textContent = done ? _("Copied") : _("Select it by hand");
    });
    on("here", () => this.me.once((place) => (place ? this.look(card, name, [place], false) : this.say(card, _("The phone does not tell where it is.")))));
    for (const how of ["tap", "way", "area"]) on(how, () => this.draws(card, name, how));
    on("done", () => this.finish());
    on("cancel", () => this.forget());
    on("found-here", () => this.me.once((place) => place && this.place(card, place)));
    on("found-heard", () => {
      const last = this.state?.payloads.find(({ payload }) => payload === name)?.last;
      if (last) this.place(card, [last.lat, last.lon]);
    });
    on("found", () => this.close(card, name));
    return card;
  }

  say(card, text) { part(card, "says").textContent = text; }

  place(card, [lat, lon]) {
    part(card, "lat").value = lat.toFixed(6);
    part(card, "lon").value = lon.toFixed(6);
  }

  // Places for a look are tapped on the map, one after the other.
  draws(card, name, how) {
    this.forget();
    this.drawing = { card, name, how, places: [] };
    const many = how !== "tap";
    button(card, "done").hidden = !many;
    button(card, "cancel").hidden = false;
    this.say(card, many ? _("Tap one place after the other on the map, then Done.") : _("Tap the place on the map."));
    this.flightMap.hold(true);
    document.getElementById("map")?.scrollIntoView({ block: "center" });
  }

  tapped({ lat, lng }) {
    const { drawing } = this;
    if (!drawing) return;
    drawing.places.push([lat, lng]);
    if (drawing.how === "tap") return void this.finish();
    drawing.line?.remove();
    drawing.line = L.polyline(drawing.places, { color: "#54257e", weight: 4, dashArray: "4 4", interactive: false }).addTo(this.flightMap.map);
  }

  finish() {
    if (this.drawing === null) return;
    const { card, name, how, places } = this.drawing;
    this.forget();
    if (places.length > 0) this.look(card, name, places, how === "area");
  }

  forget() {
    const { drawing } = this;
    this.drawing = null;
    if (!drawing) return;
    drawing.line?.remove();
    button(drawing.card, "done").hidden = true;
    button(drawing.card, "cancel").hidden = true;
    this.say(drawing.card, "");
  }

  async look(card, payload, shape, area) {
    const [reach_m, chance] = [this.words.shortToM(typed(part(card, "reach").value)), typed(part(card, "chance").value) / 100];
    if (!(reach_m >= LEAST_REACH && reach_m <= MOST_REACH && chance > 0 && chance < 1)) {
      const reach = { least: this.words.distance(LEAST_REACH), most: this.words.distance(MOST_REACH) };
      return this.say(card, _("Give a reach from {least} to {most}, and a chance above 0 and below 100 %.", reach));
    }
    const { error } = await post("/api/search/look", { payload, shape, area, kind: part(card, "kind").value, reach_m, chance });
    this.say(card, error ?? _("Noted. The map shows what is left."));
    return this.again();
  }

  async close(card, payload) {
    const [lat, lon] = [part(card, "lat").value, part(card, "lon").value].map(typed);
    if (!isPlace(lat, lon)) {
      part(card, "found").textContent = _("Say where, as degrees such as 47.21346 and 20.65432.");
      return;
    }
    const { error } = await post("/api/found", {
      payload, lat, lon, condition: part(card, "condition").value,
      note: part(card, "note").value, time: this.state?.now,
    });
    if (error) part(card, "found").textContent = error;
    this.again();
  }

  async copy(card) {
    const text = ["decimal", "minutes", "utm", "mgrs"].map((name) => part(card, name).textContent).filter((t) => t).join("\n");
    const done = await navigator.clipboard?.writeText(text).then(() => true, () => false);
    button(card, "copy").textContent = done ? _("Copied") : _("Select it by hand");
  }

  async again() {
    if (!this.open) return;
    const squares = [];
    const guides = [];
    for (const [name, card] of this.cards) {
      const answer = await fetch(`/api/search?payload=${encodeURIComponent(name)}`).catch(() => null);
      if (!answer?.ok) continue;
      const told = await answer.json();
      this.usual = told.usual;
      if (part(card, "reach").value === "") card.usual();
      this.show(card, told, squares, guides);
    }
    this.shapes.clearLayers();
    for (const one of squares) this.shapes.addLayer(one);
    this.flightMap.guides = guides;
  }

  /** @param {any} card @param {import("./state").SearchTold} told @param {any[]} squares
   * @param {Array<[string, string, [number, number]]>} guides */
  show(card, told, squares, guides) {
    const { words } = this;
    const set = (name, text) => { part(card, name).textContent = text; };
    const { place, found, next } = told;
    set("place-word", found ? _("Found: {condition}", { condition: CONDITIONS[found.condition] }) : _("Where to look next"));
    set("decimal", place ? point(place.lat, place.lon) : _("no estimate yet"));
    set("minutes", place?.degrees_minutes ?? "");
    set("utm", place?.utm ? `UTM ${place.utm} (WGS 84)` : "");
    set("mgrs", place?.mgrs ? `MGRS ${place.mgrs}` : "");
    set("worth", !place || found ? "" : _("It lies within {distance} of there with a chance of {chance}, by the estimate and what was noted.", { distance: words.distance(next[0].within_m), chance: percent(next[0].chance) }));
    if (place) part(card, "geo").href = place.geo;
    rows(part(card, "next"), found ? [] : next.slice(1), (one, n) => _("Then {number}: {place}, {chance}", { number: n + 2, place: point(one.lat, one.lon), chance: percent(one.chance) }));
    next.forEach((one, n) => !found && guides.push([`next/${told.payload}/${n}`, `${n + 1}`, [one.lat, one.lon]]));
    const near = told.near.map((one) => [one.kind, one.name, one.distance_m < 1 ? _("right there")
      : `${words.distance(one.distance_m)} ${compass(one.bearing_deg)}`].filter((text) => text).join(" "));
    set("near", near.length === 0 ? "" : _("Near there: {hazards}. Look for others yourself.", { hazards: near.join(" · ") }));
    const lookText = (one) => [LEAST[one.kind], one.who, _("reach {distance}", { distance: words.distance(one.reach_m) }), percent(one.chance)]
      .filter((text) => text).join(", ");
    rows(part(card, "looks"), told.looks, (one) => `${words.time(one.time)}: ${lookText(one)}`, (one) => [_("Take back"), async () => {
      await post("/api/search/take-back", { number: one.number });
      this.again();
    }]);
    set("notice", place ? this.notice(told) : "");
    if (found) set("found", `${this.closedText(found)} ${found.note}`);
    if (!found && told.grid) this.squares(told.grid, squares);
    for (const one of told.looks) this.drawn(one, squares);
  }

  /** @param {import("./state").FoundSnapshot} found */
  closedText({ time, condition, lat, lon, who }) {
    const noted = { time: this.words.time(time), condition: CONDITIONS[condition], place: point(lat, lon), who };
    return who === "" ? _("Noted {time}: {condition}, at {place}.", noted) : _("Noted {time}: {condition}, at {place}, by {who}.", noted);
  }

  // In each language that the station has, since nobody knows who lives there.
  notice({ payload, place, notices }) {
    const one = this.state?.payloads.find((it) => it.payload === payload);
    const filled = {
      when: one?.landing ? this.words.time(one.landing.eta) : "…",
      place: `${point(place.lat, place.lon)} (${place.degrees_minutes})`,
      station: this.state?.station ?? "",
    };
    return Object.values(notices).map((text) => text.replace(/\{(\w+)\}/g, (_, name) => filled[name])).join("\n\n");
  }

  // Darker where it is likelier: the squares that hold half of it, nine tenths, and most of all.
  squares({ south, north, west, east, rows: count, columns, shares }, squares) {
    const [high, wide] = [(north - south) / count, (east - west) / columns];
    shares.forEach((share, n) => {
      if (share > 98) return;
      const [row, column] = [Math.floor(n / columns), n % columns];
      const opacity = share <= 50 ? 0.62 : share <= 90 ? 0.34 : 0.14;
      squares.push(L.rectangle([[south + row * high, west + column * wide], [south + (row + 1) * high, west + (column + 1) * wide]],
        { stroke: false, fillColor: "#54257e", fillOpacity: opacity, interactive: false }));
    });
  }

  drawn({ kind, shape, area, reach_m }, squares) {
    const look = { color: kind === "heard" ? "#0a4d92" : "#13161a", weight: 2, dashArray: kind === "searched" ? null : "2 5", fill: false, interactive: false };
    if (area) squares.push(L.polygon(shape, look));
    else if (shape.length > 1) squares.push(L.polyline(shape, { ...look, weight: 4 }));
    else squares.push(L.circle(shape[0], { ...look, radius: reach_m }));
  }
}

const percent = (chance) => `${number(100 * chance, chance < 0.1 ? 1 : 0)} %`;

function rows(list, items, text, act) {
  list.replaceChildren(...items.map((item, n) => {
    const row = document.createElement("li");
    row.textContent = text(item, n);
    if (act) {
      const [word, run] = act(item);
      const one = Object.assign(document.createElement("button"), { type: "button", className: "small", textContent: word });
      one.addEventListener("click", run);
      row.append(" ", one);
    }
    return row;
  }));
}


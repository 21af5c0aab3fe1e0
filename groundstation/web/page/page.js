// Puts the station's state on the page.

import { framesText, putFacts, putGuide, putLanding, putMessage, putSource, putTarget, story } from "./cards.js";
import { drawClimb, drawFall, hasHeights } from "./charts.js";
import { Contact } from "./contact.js";
import { Me, setUpCrew } from "./crew.js";
import { byId, fill, part, say, show } from "./dom.js";
import { Drive } from "./drive.js";
import { guideOf } from "./guide.js";
import { _, ngettext, number } from "./language.js";
import { FlightMap } from "./map.js";
import { askOnline } from "./online.js";
import { Report } from "./report.js";
import { Search, post } from "./search.js";
import { Sightings } from "./sighting.js";
import { setUpTelling } from "./tell.js";
import { Telemetry } from "./telemetry.js";
import { Words, span } from "./words.js";

/** @typedef {import("./state").StationSnapshot} State */

const TICK_MS = 500;
// Own choices: nothing moves while a finger is about to touch.
const FINGER_MS = 1200;
const STILL_MS = 4000;

/** @type {Record<string, string>} */
const REASONS = {
  unreadable: _("unreadable"), checksum: _("with a wrong checksum"), "too-long": _("too long"),
  "no-position": _("without a position"), "server-comment": _("from the server itself"), "no-fix": _("without a fix"),
  impossible: _("impossible"), "bad-time": _("with a wrong time"), "unknown-tracker": _("from other trackers"),
  duplicate: _("heard before"), jump: _("too far to be true"),
};

/** @param {Words | null} words */
function putContact(words) {
  const { state, lost, silence, trouble } = contact;
  document.body.classList.toggle("old", lost);
  document.body.classList.toggle("live", !lost && state !== null);
  const told = lost
    ? _("No answer for {span}: all below is old", { span: span(silence) })
    : state === null ? _("Asking the station …") : _("Live, updated {span} ago", { span: span(silence) });
  say(byId("contact"), told);
  byId("bar").title = lost ? trouble : "";
  say(byId("said"), lost ? _("The station does not answer. What is shown is old.") : "");
  const now = state === null || words === null ? null : { time: words.exact(state.now) };
  const mark = now === null ? "" : lost ? _("OLD {time}", now) : _("as of {time}", now);
  for (const node of document.querySelectorAll(".asof")) say(node, mark);
}

/** @param {State} state */
function putRehearsal(state) {
  show(byId("rehearsal"), state.rehearsal);
  if (!state.rehearsal) return;
  const { speed } = state;
  say(byId("pace"), speed === null ? _("recorded flight") : speed === 0 ? _("recorded flight, held")
    : speed === 1 ? _("recorded flight, in real time")
    : _("recorded flight, {speed} times real time", { speed: number(speed, 0, 3) }));
  for (const button of byId("pacing").querySelectorAll("[data-speed]")) {
    button.setAttribute("aria-pressed", String(Number(button.dataset.speed) === speed));
  }
}

/** @type {Words | null} */
let spoken = null;
/** @param {State} state @returns {Words} */
function wordsFor({ units, timezone }) {
  if (spoken?.units !== units || spoken?.timezone !== timezone) spoken = new Words(units, timezone);
  return spoken;
}

// What is wrong with the station stands in one line of the same height, and whole further down.
/** @param {State} state */
function putTrouble({ problems }) {
  byId("trouble").classList.toggle("bad", problems.length > 0);
  if (contact.lost) {
    byId("trouble").classList.add("bad");
    return say(byId("trouble-says"), _("! Check your network; it keeps asking."));
  }
  const more = problems.length > 1 ? ` ${_("(and {count} more)", { count: problems.length - 1 })}` : "";
  say(byId("trouble-says"), problems.length === 0 ? _("The station is well.") : `! ${problems[0]}${more}`);
  show(byId("calm"), problems.length === 0);
  fill(byId("problems"), "problem-part", problems, (row, text) => say(part(row, "text"), text));
}

function render() {
  const { state } = contact;
  const words = state === null ? null : wordsFor(state);
  putContact(words);
  if (state === null || words === null) return;
  putRehearsal(state);
  document.title = state.station;
  say(document.querySelector("h1") ?? byId("bar"), state.station);
  putTrouble(state);
  const { payloads, vehicles } = state;
  const guides = payloads.map((one) => guideOf(one, me.place, words, contact));
  fill(byId("guides"), "guide-part", payloads, (card, item) => putGuide(card, item, guides[payloads.indexOf(item)]));
  fill(byId("landings"), "landing-part", payloads, (card, item) => putLanding(card, item, vehicles, me.place, words, contact, drive));
  fill(byId("facts"), "facts-part", payloads, (card, item) => putFacts(card, item, words, contact));
  show(byId("nobody"), payloads.length === 0);
  arrange(guides.some(({ searching }) => searching));
  fill(byId("sources"), "source-part", state.sources, (row, item) => putSource(row, item, contact));
  fill(byId("targets"), "target-part", state.targets, (row, item) => putTarget(row, item, contact));
  show(byId("no-targets"), state.targets.length === 0);
  if (performance.now() - fingerAt > FINGER_MS) putMessages(state, words);
  putCounts(state, words);
}

/** @param {State} state @param {Words} words */
function putMessages({ messages }, words) {
  fill(byId("messages"), "message-part", messages, (row, item) => putMessage(row, item, refused.get(item.key) ?? "", words, contact));
  show(byId("no-messages"), messages.length === 0);
  show(byId("see-all-box"), messages.length > 0);
  const unseen = messages.filter(({ seen }) => !seen).length;
  byId("see-all").disabled = unseen === 0;
  say(byId("see-all"), unseen === 0 ? _("All are seen") : _("Mark all as seen ({count})", { count: unseen }));
}

// While it is searched for, the search comes first and the alerts are folded; once each way, so that
// what a person opens or closes stays so.
let searching = false;
/** @param {boolean} now */
function arrange(now) {
  if (now === searching || performance.now() - touchedAt < STILL_MS) return;
  searching = now;
  const [search, alerts] = [byId("search"), byId("alerts")];
  if (now) byId("landings").before(search);
  else alerts.after(search);
  search.open = now;
  alerts.open = !now;
}

/** @param {State} state @param {Words} words */
function putCounts(state, words) {
  const { frames, fixes, rejected } = state.counts;
  say(byId("counts"), `${framesText(frames)}, ${ngettext("{count} fix used", "{count} fixes used", fixes)}.`);
  const reasons = Object.entries(rejected).filter(([, count]) => count > 0).sort((a, b) => b[1] - a[1]);
  say(byId("rejected"), reasons.length === 0
    ? _("Nothing was turned away.")
    : _("Not used: {reasons}.", { reasons: reasons.map(([reason, count]) => `${number(count)} ${REASONS[reason] ?? reason}`).join(", ") }));
  say(byId("about"), _("Times are {zone}. Station started {time}.", { zone: words.zone, time: words.exact(state.started) }));
}

// Drawing is put off to the next frame and done once, however often the station tells something.
let drawing = false;
function drawSoon() {
  if (drawing) return;
  drawing = true;
  const draw = () => {
    drawing = false;
    drawAll();
  };
  if (document.hidden) setTimeout(draw, TICK_MS);
  else requestAnimationFrame(draw);
}

function drawAll() {
  render();
  const { state } = contact;
  if (state === null) return;
  const words = wordsFor(state);
  fill(byId("curves"), "curves-part", state.payloads, (card, payload) => {
    show(card, payload.launch !== null || Object.keys(payload.last?.telemetry ?? {}).length > 0);
    say(part(card, "curves-of"), payload.payload);
    say(part(card, "story"), story(payload, words, contact));
    const track = contact.trail("track", payload.payload);
    card.querySelector(".climb").style.display = hasHeights(payload, track) ? "" : "none";
    drawClimb(card.querySelector(".climb"), payload, track, words);
    show(part(card, "fallen"), payload.burst !== null);
    drawFall(card.querySelector(".fall"), payload, track, speedRatios, words);
    card.telemetry ??= new Telemetry(part(card, "sent"), payload.payload);
    card.telemetry.put(payload, words);
  });
  fill(byId("reports"), "report-part", state.payloads, (card, payload) => {
    card.report ??= new Report(card, payload.payload, post);
    card.report.put(payload, words);
  });
  search.put(state, words);
  sightings.put(state, words);
  flightMap.put(state, contact, words);
}

/** @type {number[]} */
let speedRatios = [];
fetch("/api/speed-ratios").then((answer) => answer.json()).then((told) => { speedRatios = told; }).catch(() => {});

// Why an alert could not be marked; it stays until that works.
/** @type {Map<string, string>} */
const refused = new Map();
let fingerAt = -Infinity;
let touchedAt = -Infinity;
for (const name of ["pointerdown", "wheel", "touchmove", "keydown"]) {
  document.addEventListener(name, () => { touchedAt = performance.now(); }, { passive: true });
}
byId("alerts").addEventListener("pointerdown", () => { fingerAt = performance.now(); });

const flightMap = new FlightMap(byId("map"));
const me = new Me((place, trouble) => {
  flightMap.me = place;
  say(byId("map-says"), trouble);
  byId("locate").setAttribute("aria-pressed", String(place !== null));
  drawSoon();
});
const drive = new Drive(() => me.place, drawSoon);
const search = new Search(byId("search"), byId("search-body"), byId("search-part"), flightMap, me);
const sightings = new Sightings(me, () => contact.state);
const contact = new Contact(drawSoon);
setUpCrew(me);
flightMap.layers(byId("layers"), byId("layer-box"), askOnline).catch(() => {});
flightMap.hazards().catch(() => {});
flightMap.onHold = (held) => byId("whole").setAttribute("aria-pressed", String(!held));
byId("whole").addEventListener("click", () => flightMap.hold(false));
byId("to-landing").addEventListener("click", () => {
  const landing = contact.state?.payloads.map((one) => one.found ?? one.landing).find((one) => one);
  if (landing) flightMap.show([landing.lat, landing.lon], 13);
});
byId("locate").addEventListener("click", () => {
  if (me.trouble !== "") return say(byId("map-says"), me.trouble);
  if (me.place !== null) return me.stop();
  // The whole flight, with where I am.
  return me.once((place) => place && flightMap.hold(false));
});
byId("landings").addEventListener("click", (/** @type {any} */ { target }) => {
  const what = target.closest("[data-do]")?.dataset.do;
  if (what === undefined) return;
  const n = [...byId("landings").children].indexOf(target.closest(".landing"));
  const payload = contact.state?.payloads[n];
  const place = payload?.found ?? payload?.landing;
  const go = () => {
    const to = place && payload ? drive.road(payload.payload, place.lat, place.lon) ?? place : place;
    const address = to && drive.address(to.lat, to.lon);
    if (!address) return;
    if (address.startsWith("geo:")) location.assign(address);
    else window.open(address, "_blank", "noopener");
  };
  if (what === "drive-with") drive.ask(null);
  else if (drive.name === "") drive.ask(go);
  else go();
});
byId("rehearsal").open = window.innerWidth > 700;
byId("pacing").addEventListener("click", async (/** @type {any} */ { target }) => {
  const { speed, ahead } = target.dataset;
  if (speed === undefined && ahead === undefined) return;
  const { error } = await post("/api/rehearsal", speed === undefined ? { ahead_s: Number(ahead) } : { speed: Number(speed) });
  if (error) say(byId("pace"), error);
});
if ("serviceWorker" in navigator) navigator.serviceWorker.register("/worker.js").catch(() => {});
setUpTelling().catch(() => {});

/** @param {string} key */
async function markSeen(key) {
  const { error, unheard } = await post("/api/acknowledge", { key });
  if (error) refused.set(key, unheard ? _("No answer: try again") : _("Not allowed"));
  else refused.delete(key);
  const message = contact.state?.messages.find((one) => one.key === key);
  if (message !== undefined && !error) message.seen = true;
}

function showMessages() {
  if (contact.state !== null) putMessages(contact.state, wordsFor(contact.state));
}

byId("messages").addEventListener("click", async (/** @type {any} */ event) => {
  const button = event.target.closest('[data-f="seen"]');
  if (button === null) return;
  button.disabled = true;
  await markSeen(button.dataset.key);
  showMessages();
});
byId("see-all").addEventListener("click", async () => {
  byId("see-all").disabled = true;
  for (const { key, seen } of contact.state?.messages ?? []) if (!seen) await markSeen(key);
  showMessages();
});
if (contact.state !== null) drawSoon();
setInterval(render, TICK_MS);

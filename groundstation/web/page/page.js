// Puts the station's state on the page. Text only ever goes in as textContent.

import { drawClimb, drawFall } from "./charts.js";
import { Contact } from "./contact.js";
import { Me, setUpCrew } from "./crew.js";
import { FlightMap } from "./map.js";
import { Search, post } from "./search.js";
import { Words, point, reading, span } from "./words.js";

const TICK_MS = 500;
const LEVEL_MS = 0.3; // below this the height does not say up or down

const PHASES = {
  prelaunch: ["◇", "Waiting"], ascent: ["▲", "Rising"], float: ["◆", "Floating"],
  descent: ["▼", "Falling"], landed: ["■", "Landed"],
};
const SOURCES = {
  starting: ["◇", "starting"], running: ["●", "working"], quiet: ["○", "connected, but silent"],
  waiting: ["▲", "not connected"], ended: ["■", "at its end"], failed: ["✕", "given up"],
};
const REASONS = {
  unreadable: "unreadable", checksum: "with a wrong checksum", "too-long": "too long",
  "no-position": "without a position", "server-comment": "from the server itself", "no-fix": "without a fix",
  impossible: "impossible", "bad-time": "with a wrong time", "unknown-tracker": "from other trackers",
  duplicate: "heard before", jump: "too far to be true",
};

const byId = (id) => document.getElementById(id);
const part = (node, name) => node.querySelector(`[data-f="${name}"]`);

function say(node, text) {
  if (node.textContent !== text) node.textContent = text;
}

function show(node, yes) {
  if (node.hidden === yes) node.hidden = !yes;
}

// Only what a map link may be; anything else leaves no link at all.
function link(node, address) {
  const fit = typeof address === "string" && /^(geo:-?\d|https:\/\/)/.test(address);
  if (!fit) node.removeAttribute("href");
  else if (node.getAttribute("href") !== address) node.setAttribute("href", address);
}

function fill(list, templateId, items, put) {
  while (list.children.length > items.length) list.lastElementChild.remove();
  while (list.children.length < items.length) {
    list.append(byId(templateId).content.firstElementChild.cloneNode(true));
  }
  items.forEach((item, k) => put(list.children[k], item));
}

function putPayload(card, payload, vehicles, words, drift) {
  const set = (name, text) => say(part(card, name), text);
  const { last, landing, phase } = payload;
  const [sign, word] = PHASES[phase] ?? ["◇", phase];
  set("payload", payload.payload);
  set("phase-sign", sign);
  set("phase", word);

  set("heard", last ? `${span(last.received_age_s + drift)} ago` : "not yet");
  const behind = last ? last.age_s - last.received_age_s : 0;
  set("heard-note", behind > 30 ? `The position itself is ${span(last.age_s + drift)} old.` : "");
  const [height, heightUnit] = last ? words.heightParts(last.altitude_m) : ["–", ""];
  set("height", height);
  set("height-unit", heightUnit);
  const rate = phase === "landed" || phase === "prelaunch" ? null : payload.rate_ms;
  const moving = rate !== null && Math.abs(rate) > LEVEL_MS;
  set("rate-word", rate === null ? "Up or down" : moving ? (rate > 0 ? "Rising" : "Falling") : "Level");
  set("rate-sign", moving ? (rate > 0 ? "▲" : "▼") : "");
  const [speed, speedUnit] = rate === null ? ["–", ""] : words.rateParts(rate);
  set("rate", speed);
  set("rate-unit", speedUnit);

  set("last-point", last ? point(last.lat, last.lon) : "not heard yet");
  set("last-base", last ? words.fromBase(last.distance_m, last.bearing_deg) : "");
  set("last-by", last ? heardBy(last, words) : "");
  link(part(card, "last-geo"), last?.geo);
  link(part(card, "last-map"), last?.map);

  const down = phase === "landed";
  const { found } = payload;
  set("landing-word", found ? "Closed" : down ? "Landed, point estimated" : "Landing, estimated");
  set("eta", found ? (found.condition === "lost" ? "Given up" : "Found") : down ? `down for ${span((payload.since_age_s ?? 0) + drift)}` : landing ? due(landing.eta_in_s - drift) : "–");
  set("eta-range", landing && !down
    ? `${words.time(landing.eta)} (90 %: ${words.time(landing.eta_90[0])}–${words.time(landing.eta_90[1])})`
    : "");
  set("sure-50", landing ? words.distance(landing.radius_50_m) : "–");
  set("sure-90", landing ? words.distance(landing.radius_90_m) : "–");
  set("landing-point", landing ? point(landing.lat, landing.lon) : "no estimate yet");
  set("landing-base", landing ? words.fromBase(landing.distance_m, landing.bearing_deg) : "");
  const { planned } = payload;
  set("landing-plan", planned && landing ? words.fromPlace(planned.distance_m, planned.bearing_deg, "the plan") : "");
  set("landing-vehicles", vehicles.flatMap((one) => one.to_landing
    .filter(({ payload: name }) => name === payload.payload)
    .map((way) => fromVehicle(one, way, words, drift))).join(" · "));
  const kept = Object.entries(landing?.inside ?? {}).map(([name, share]) => `${name}: ${Math.round(100 * share)} %`);
  const out = kept.length === 0 ? "" : `May come down in ${kept.join(", ")}. `;
  set("landing-basis", landing ? `${out}From a fix ${span(landing.evidence_age_s + drift)} old: ${landing.basis}` : "");
  link(part(card, "landing-geo"), landing?.geo);
  link(part(card, "landing-map"), landing?.map);

}

function putCurves(card, payload, words, drift) {
  say(part(card, "curves-of"), payload.payload);
  say(part(card, "story"), story(payload, words, drift, payload.burst));
  const track = contact.trail("track", payload.payload);
  drawClimb(card.querySelector(".climb"), payload, track, words);
  drawFall(card.querySelector(".fall"), payload, track, thinness, words);
}

function fromVehicle(vehicle, way, words, drift) {
  const old = vehicle.age_s + drift > 120 ? ` (${span(vehicle.age_s + drift)} ago)` : "";
  const there = way.straight_in_s === null ? "" : `, ${span(way.straight_in_s)} in a straight line at its speed`;
  return `${words.fromPlace(way.distance_m, way.bearing_deg, vehicle.vehicle)}${there}${old}`;
}

function due(s) {
  if (s < 0) return `due ${span(-s)} ago`;
  return `in ${span(s < 600 ? s : Math.round(s / 60) * 60)}`;
}

function heardBy(last, words) {
  const more = Object.entries(last.telemetry).map(([name, value]) => reading(name, value));
  if (last.satellites !== null) more.unshift(`${last.satellites} satellites`);
  return [`Fix of ${words.exact(last.time)} from ${last.tracker} by ${last.source}`, ...more].join(" · ");
}

function story(payload, words, drift, burst) {
  const { launch } = payload;
  const told = [];
  if (launch) told.push(`Launched ${words.time(launch.time)}, flying ${span(launch.age_s + drift)}.`);
  if (payload.phase === "landed" && launch) told[0] = `Launched ${words.time(launch.time)}.`;
  if (burst) told.push(`Burst ${words.time(burst.time)} at ${words.height(burst.altitude_m)}.`);
  return told.join(" ") || "Not launched yet.";
}

function putSource(row, source, words, drift) {
  const [sign, word] = SOURCES[source.state] ?? ["◇", source.state];
  say(part(row, "sign"), sign);
  say(part(row, "name"), source.name);
  say(part(row, "state"), `${word} for ${span(source.since_age_s + drift)}`);
  const heard = source.last_frame_age_s === null ? "nothing heard yet" : `last heard ${span(source.last_frame_age_s + drift)} ago`;
  say(part(row, "detail"), `${source.kind}, ${source.frames.toLocaleString("en-GB")} frames, ${heard}`);
  say(part(row, "receivers"), source.receivers.length < 2 ? "" : source.receivers.map((one) =>
    `${one.name}: ${one.frames.toLocaleString("en-GB")}, ${span(one.last_age_s + drift)} ago`).join(" · "));
  say(part(row, "error"), failure(source));
}

function failure(item) {
  const told = [];
  if (item.failures > 0) told.push(`failed ${item.failures === 1 ? "once" : `${item.failures} times`}`);
  if (item.last_error) told.push(`last: ${item.last_error}`);
  if (item.next_try_s !== null) told.push(`next try in ${span(item.next_try_s - contact.silence)}`);
  return told.join(" · ");
}

function putTarget(row, target, words, drift) {
  const stuck = target.waiting > 0;
  say(part(row, "sign"), stuck ? "▲" : "●");
  say(part(row, "name"), target.name);
  say(part(row, "state"), stuck
    ? `${target.waiting} waiting${target.oldest_waiting_age_s === null ? "" : `, the oldest for ${span(target.oldest_waiting_age_s + drift)}`}`
    : "nothing waiting");
  const told = [target.kind, `${target.delivered} delivered`];
  if (target.last_delivered_age_s !== null) told.push(`last ${span(target.last_delivered_age_s + drift)} ago`);
  if (target.uncertain > 0) told.push(`${target.uncertain} may have come twice`);
  if (target.expired > 0) told.push(`${target.expired} out of date, not sent`);
  say(part(row, "detail"), told.filter((text) => text).join(", "));
  say(part(row, "error"), failure(target));
}

// Why an alert could not be marked; it stays until that works.
const refused = new Map();

function putMessage(row, message, words, drift) {
  say(part(row, "title"), message.title);
  say(part(row, "body"), message.body);
  say(part(row, "when"), `${words.time(message.time)}, ${span(message.age_s + drift)} ago`);
  const button = part(row, "seen");
  // Only the newest is spread out, until somebody opens another.
  if (button.dataset.key !== message.key) part(row, "more").open = row === row.parentElement.firstElementChild;
  button.dataset.key = message.key;
  button.disabled = message.seen;
  say(button, message.seen ? "✓ Seen" : refused.get(message.key) ?? "Mark as seen");
}

function putContact(contact, words) {
  const { state, lost, silence, trouble } = contact;
  const began = state === null && !lost;
  document.body.classList.toggle("old", lost);
  document.body.classList.toggle("live", !lost && state !== null);
  const told = lost
    ? `No answer for ${span(silence)}: all below is old`
    : began ? "Asking the station …" : `Live, updated ${span(silence)} ago`;
  say(byId("contact"), told);
  byId("bar").title = lost ? trouble : "";
  say(byId("said"), lost ? "The station does not answer. What is shown is old." : "");
  const mark = state === null ? "" : `${lost ? "OLD" : "as of"} ${words.exact(state.now)}`;
  for (const node of document.querySelectorAll(".asof")) say(node, mark);
}

function putRehearsal(state) {
  show(byId("rehearsal"), state.rehearsal);
  if (!state.rehearsal) return;
  const { speed } = state;
  const pace = speed === 0 ? "held" : speed === 1 ? "in real time" : `${speed?.toLocaleString("en-GB")} times real time`;
  say(byId("pace"), speed === null ? "recorded flight" : `recorded flight, ${pace}`);
  for (const button of byId("pacing").querySelectorAll("[data-speed]")) {
    button.setAttribute("aria-pressed", String(Number(button.dataset.speed) === speed));
  }
}

let spoken = null;
function wordsFor({ units, timezone }) {
  if (spoken?.units !== units || spoken?.timezone !== timezone) spoken = new Words(units, timezone);
  return spoken;
}

function render() {
  const { state, drift } = contact;
  const words = state === null ? null : wordsFor(state);
  putContact(contact, words);
  if (state === null) return;
  putRehearsal(state);
  document.title = state.station;
  say(document.querySelector("h1"), state.station);
  const problems = state.problems;
  say(byId("calm"), contact.lost ? "Check your network; it keeps asking." : "Nothing needs doing.");
  show(byId("calm"), problems.length === 0);
  fill(byId("problems"), "problem-part", problems, (row, text) => say(part(row, "text"), text));
  fill(byId("payloads"), "payload-part", state.payloads, (card, item) => putPayload(card, item, state.vehicles, words, drift));
  show(byId("nobody"), state.payloads.length === 0);
  fill(byId("sources"), "source-part", state.sources, (row, item) => putSource(row, item, words, drift));
  fill(byId("targets"), "target-part", state.targets, (row, item) => putTarget(row, item, words, drift));
  show(byId("no-targets"), state.targets.length === 0);
  fill(byId("messages"), "message-part", state.messages, (row, item) => putMessage(row, item, words, drift));
  show(byId("no-messages"), state.messages.length === 0);
  putCounts(state, words);
}

function putCounts(state, words) {
  const { frames, fixes, rejected } = state.counts;
  const n = (value) => value.toLocaleString("en-GB");
  say(byId("counts"), `${n(frames)} frames, ${n(fixes)} fixes used.`);
  const reasons = Object.entries(rejected).filter(([, count]) => count > 0).sort((a, b) => b[1] - a[1]);
  say(byId("rejected"), reasons.length === 0
    ? "Nothing was turned away."
    : `Not used: ${reasons.map(([reason, count]) => `${n(count)} ${REASONS[reason] ?? reason}`).join(", ")}.`);
  say(byId("about"), `Times are ${words.zone}. Station started ${words.exact(state.started)}.`);
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
  fill(byId("curves"), "curves-part", state.payloads, (card, item) => putCurves(card, item, words, contact.drift));
  search.put(state, words);
  flightMap.put(state, contact, words);
}

let thinness = [];
fetch("/api/thinness").then((answer) => answer.json()).then((told) => { thinness = told; }).catch(() => {});

const flightMap = new FlightMap(byId("map"));
const me = new Me((place, trouble) => {
  flightMap.me = place;
  say(byId("map-says"), trouble);
  drawSoon();
});
const search = new Search(byId("search"), byId("search-body"), byId("search-part"), flightMap, me);
const contact = new Contact(drawSoon);
setUpCrew(me);
flightMap.layers(byId("layers"), byId("layer-box")).catch(() => {});
flightMap.hazards().catch(() => {});
flightMap.onHold = (held) => byId("whole").setAttribute("aria-pressed", String(!held));
byId("whole").addEventListener("click", () => flightMap.hold(false));
byId("to-landing").addEventListener("click", () => {
  const landing = contact.state?.payloads.map((one) => one.found ?? one.landing).find((one) => one);
  if (landing) flightMap.show([landing.lat, landing.lon], 13);
});
byId("locate").addEventListener("click", () => {
  const on = byId("locate").getAttribute("aria-pressed") !== "true";
  byId("locate").setAttribute("aria-pressed", String(on && me.trouble === ""));
  if (me.trouble !== "") return say(byId("map-says"), me.trouble);
  if (!on) return me.stop();
  return me.once((place) => place && flightMap.show(place, 12));
});
byId("pacing").addEventListener("click", async ({ target }) => {
  const { speed, ahead } = target.dataset;
  if (speed === undefined && ahead === undefined) return;
  const { error } = await post("/api/rehearsal", speed === undefined ? { ahead_s: Number(ahead) } : { speed: Number(speed) });
  if (error) say(byId("pace"), error);
});
if ("serviceWorker" in navigator) navigator.serviceWorker.register("/worker.js").catch(() => {});
byId("messages").addEventListener("click", async (event) => {
  const button = event.target.closest('[data-f="seen"]');
  if (button === null) return;
  button.disabled = true;
  const answer = await fetch("/api/acknowledge", {
    method: "POST",
    headers: { "Content-Type": "application/json" },
    body: JSON.stringify({ key: button.dataset.key }),
  }).catch(() => null);
  if (answer?.ok) {
    const message = contact.state.messages.find(({ key }) => key === button.dataset.key);
    if (message !== undefined) message.seen = true;
    return say(button, "✓ Seen");
  }
  button.disabled = false;
  refused.set(button.dataset.key, answer === null ? "No answer: try again" : "Not allowed");
  say(button, refused.get(button.dataset.key));
});
if (contact.state !== null) drawSoon();
setInterval(render, TICK_MS);

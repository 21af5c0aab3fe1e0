// Where this phone is, whom that is told, and who else may look.

import { byId, kept } from "./dom.js";
import { _ } from "./language.js";
import { post } from "./search.js";

const TELL_MS = 10_000;

// This phone's own place, by the browser; asked for only when the person wants it.
export class Me {
  /** @param {(place: [number, number] | null, trouble: string) => void} onPlace */
  constructor(onPlace) {
    this.onPlace = onPlace;
    /** @type {[number, number] | null} */
    this.place = null;
    /** @type {Array<(place: [number, number] | null) => void>} */
    this.waiting = [];
    /** @type {number | undefined} */
    this.watch = undefined;
    this.goOn();
  }

  // Whoever let the page know before is not asked again.
  async goOn() {
    if (this.trouble !== "" || kept.get("me") !== "shown") return;
    const known = await navigator.permissions?.query({ name: "geolocation" }).catch(() => null);
    if (known?.state === "granted") this.start();
  }

  get trouble() {
    if (!window.isSecureContext) return _("The browser tells where it is over https or on this machine only; see the README on TLS.");
    return navigator.geolocation === undefined ? _("This browser does not tell where it is.") : "";
  }

  start() {
    if (this.trouble !== "" || this.watch !== undefined) return;
    this.watch = navigator.geolocation.watchPosition(({ coords }) => {
      this.place = [coords.latitude, coords.longitude];
      this.speed = coords.speed;
      this.course = coords.heading;
      kept.set("me", "shown");
      this.settle(this.place);
      this.onPlace(this.place, "");
    }, (error) => {
      this.settle(this.place);
      this.onPlace(this.place, error.code === 1 ? _("The browser was not allowed to tell where it is.") : _("The phone can't tell where it is."));
    }, { enableHighAccuracy: true, maximumAge: 5000, timeout: 20_000 });
  }

  stop() {
    if (this.watch !== undefined) navigator.geolocation.clearWatch(this.watch);
    this.watch = undefined;
    this.place = null;
    kept.set("me", "");
    this.onPlace(null, "");
  }

  /** @param {(place: [number, number] | null) => void} act */
  once(act) {
    if (this.place !== null) return act(this.place);
    if (this.trouble !== "") return act(null);
    this.waiting.push(act);
    return this.start();
  }

  /** @param {[number, number] | null} place */
  settle(place) {
    for (const act of this.waiting.splice(0)) act(place);
  }
}

/** @param {Me} me */
export function setUpCrew(me) {
  const [tell, name, says] = [byId("tell"), byId("crew-name"), byId("tell-says")];
  let told = "";
  name.value = kept.get("crew-name");
  const told_off = () => told !== "" && navigator.sendBeacon?.("/api/position", new Blob([JSON.stringify({ name: told, stop: true })], { type: "application/json" }));
  const send = async () => {
    if (tell.getAttribute("aria-pressed") !== "true" || me.place === null) return;
    const [lat, lon] = me.place;
    const { error } = await post("/api/position", { name: told, lat, lon, speed_ms: me.speed, course_deg: me.course });
    says.textContent = error ?? _("The others see you as {name}.", { name: told });
  };
  tell.addEventListener("click", async () => {
    if (tell.getAttribute("aria-pressed") === "true") {
      tell.setAttribute("aria-pressed", "false");
      const { error } = await post("/api/position", { name: told, stop: true });
      told = "";
      says.textContent = error ?? _("Nobody is told any more.");
      return;
    }
    if (name.value.trim() === "") return void (says.textContent = _("Give your name first."));
    told = name.value.trim();
    kept.set("crew-name", told);
    tell.setAttribute("aria-pressed", "true");
    says.textContent = me.trouble || _("Waiting for the phone to tell where it is …");
    me.once(send);
  });
  setInterval(send, TELL_MS);
  window.addEventListener("pagehide", told_off);
  byId("share").addEventListener("click", async () => {
    const { error, told: made } = await post("/api/shares", { name: byId("share-name").value });
    byId("share-says").textContent = error ?? `${location.origin}${made.path}\n${shown(made.name)}`;
    listShares();
  });
  listShares();
}

/** @param {string} name */
const shown = (name) => _("Shown once. Send it to {name}.", { name });

async function listShares() {
  const answer = await fetch("/api/shares").catch(() => null);
  const told = answer?.ok ? await answer.json() : { possible: false, names: [] };
  byId("share-box").hidden = !told.possible;
  byId("shares").replaceChildren(...told.names.map((name) => {
    const row = document.createElement("li");
    const end = Object.assign(document.createElement("button"), { type: "button", className: "small", textContent: _("Take back") });
    end.addEventListener("click", async () => {
      await post("/api/shares/take-back", { name });
      listShares();
    });
    row.append(name, " ", end);
    return row;
  }));
}

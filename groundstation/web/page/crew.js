// Where this phone is, whom that is told, and who else may look.

import { post } from "./search.js";

const TELL_MS = 10_000;
const byId = (id) => document.getElementById(id);

// This phone's own place, by the browser; asked for only when the person wants it.
export class Me {
  constructor(onPlace) {
    this.onPlace = onPlace;
    this.place = null;
    this.waiting = [];
  }

  get trouble() {
    if (!window.isSecureContext) return "The browser tells where it is over https or on this machine only; see the README on TLS.";
    return navigator.geolocation === undefined ? "This browser does not tell where it is." : "";
  }

  start() {
    if (this.trouble !== "" || this.watch !== undefined) return;
    this.watch = navigator.geolocation.watchPosition(({ coords }) => {
      this.place = [coords.latitude, coords.longitude];
      this.speed = coords.speed;
      this.course = coords.heading;
      this.settle(this.place);
      this.onPlace(this.place, "");
    }, (error) => {
      this.settle(this.place);
      this.onPlace(this.place, error.code === 1 ? "The browser was not allowed to tell where it is." : "The phone can't tell where it is.");
    }, { enableHighAccuracy: true, maximumAge: 5000, timeout: 20_000 });
  }

  stop() {
    if (this.watch !== undefined) navigator.geolocation.clearWatch(this.watch);
    this.watch = undefined;
    this.place = null;
    this.onPlace(null, "");
  }

  once(act) {
    if (this.place !== null) return act(this.place);
    if (this.trouble !== "") return act(null);
    this.waiting.push(act);
    return this.start();
  }

  settle(place) {
    for (const act of this.waiting.splice(0)) act(place);
  }
}

export function setUpCrew(me) {
  const [tell, name, says] = [byId("tell"), byId("crew-name"), byId("tell-says")];
  let told = "";
  try { name.value = localStorage.getItem("crew-name") ?? ""; } catch { /* not allowed */ }
  const told_off = () => told !== "" && navigator.sendBeacon?.("/api/position", new Blob([JSON.stringify({ name: told, stop: true })], { type: "application/json" }));
  const send = async () => {
    if (tell.getAttribute("aria-pressed") !== "true" || me.place === null) return;
    const [lat, lon] = me.place;
    const { error } = await post("/api/position", { name: told, lat, lon, speed_ms: me.speed, course_deg: me.course });
    says.textContent = error ?? `The others see you as ${told}.`;
  };
  tell.addEventListener("click", async () => {
    if (tell.getAttribute("aria-pressed") === "true") {
      tell.setAttribute("aria-pressed", "false");
      const { error } = await post("/api/position", { name: told, stop: true });
      told = "";
      says.textContent = error ?? "Nobody is told any more.";
      return;
    }
    if (name.value.trim() === "") return void (says.textContent = "Give your name first.");
    told = name.value.trim();
    try { localStorage.setItem("crew-name", told); } catch { /* not allowed */ }
    tell.setAttribute("aria-pressed", "true");
    says.textContent = me.trouble || "Waiting for the phone to tell where it is …";
    me.once(send);
  });
  setInterval(send, TELL_MS);
  window.addEventListener("pagehide", told_off);
  byId("share").addEventListener("click", async () => {
    const { error, told: made } = await post("/api/shares", { name: byId("share-name").value });
    byId("share-says").textContent = error ?? `${location.origin}${made.path}\nShown once. Send it to ${made.name}.`;
    listShares();
  });
  listShares();
}

async function listShares() {
  const answer = await fetch("/api/shares").catch(() => null);
  const told = answer?.ok ? await answer.json() : { possible: false, names: [] };
  byId("share-box").hidden = !told.possible;
  byId("shares").replaceChildren(...told.names.map((name) => {
    const row = document.createElement("li");
    const end = Object.assign(document.createElement("button"), { type: "button", className: "small", textContent: "Take back" });
    end.addEventListener("click", async () => {
      await post("/api/shares/take-back", { name });
      listShares();
    });
    row.append(name, " ", end);
    return row;
  }));
}

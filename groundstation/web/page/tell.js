// "Tell this phone": the browser's push service brings alerts here (W3C Push API).

import { byId, kept, say, show } from "./dom.js";
import { _ } from "./language.js";
import { post } from "./search.js";

/** @param {string} text base64url @returns {Uint8Array<ArrayBuffer>} */
function bytesOf(text) {
  const plain = atob(text.replace(/-/g, "+").replace(/_/g, "/"));
  return Uint8Array.from(plain, (letter) => letter.charCodeAt(0));
}

/** @param {ArrayBuffer | null} buffer */
function textOf(buffer) {
  const plain = String.fromCharCode(...new Uint8Array(buffer ?? new ArrayBuffer(0)));
  return btoa(plain).replace(/\+/g, "-").replace(/\//g, "_").replace(/=+$/, "");
}

// Why it can't be, or "".
function trouble() {
  if (!window.isSecureContext) return _("Phones are told over https only: see “groundstation certificate” in the README.");
  if (!("serviceWorker" in navigator)) return _("This browser can't be told.");
  if (!("PushManager" in window)) return _("This browser can't be told. On an iPhone or iPad put this page on the home screen first, and open it from there.");
  return Notification.permission === "denied" ? _("This browser was told to show no messages of this page; allow them in its settings.") : "";
}

// What is told stays told until the next touch.
export async function setUpTelling() {
  const [tell, says] = [byId("tell-phone"), byId("tell-phone-says")];
  const answer = await fetch("/api/phones").catch(() => null);
  if (answer === null || !answer.ok) return show(byId("tell-phone-box"), false);
  const { key, missing } = await answer.json();
  show(byId("tell-phone-box"), true);
  const why = missing || trouble();
  if (why !== "") return say(says, why);
  // A touch before all is ready would do nothing: until then the button stays as it is, disabled.
  const worker = await navigator.serviceWorker.ready;
  let now = await worker.pushManager.getSubscription();
  const put = () => {
    tell.setAttribute("aria-pressed", String(now !== null));
    say(tell, now === null ? _("Tell this phone") : _("Tell this phone no more"));
  };
  put();
  tell.addEventListener("click", async () => {
    tell.disabled = true;
    try {
      if (now === null) now = await begin(worker, key, says);
      else {
        await post("/api/phones/forget", { endpoint: now.endpoint });
        await now.unsubscribe();
        now = null;
        say(says, _("This phone is told no more."));
      }
    } catch {
      say(says, _("The browser did not agree, or reaches no push service; try again where there is a network."));
    }
    tell.disabled = false;
    put();
  });
  tell.disabled = false;
}

/** @param {ServiceWorkerRegistration} worker @param {string} key @param {HTMLElement} says */
async function begin(worker, key, says) {
  if (await Notification.requestPermission() !== "granted") {
    say(says, trouble() || _("The browser was not allowed to show messages."));
    return null;
  }
  const made = await worker.pushManager.subscribe({ userVisibleOnly: true, applicationServerKey: bytesOf(key) });
  const { error, told } = await post("/api/phones", {
    name: kept.get("crew-name"), endpoint: made.endpoint,
    key: textOf(made.getKey("p256dh")), secret: textOf(made.getKey("auth")),
  });
  if (error) {
    await made.unsubscribe();
    say(says, error);
    return null;
  }
  say(says, told.trouble === ""
    ? _("The station knows it as “{name}” and sent it a test message. See that it arrives, also with the screen off.", told)
    : _("The station knows it as “{name}”, but the test did not go out: {trouble}.", told));
  return made;
}

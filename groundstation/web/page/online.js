// Asks once whether the online map may be shown, and remembers a yes on this phone. The station then
// lets this browser ask for its pictures (Content-Security-Policy), which needs the page anew.

import { byId, kept } from "./dom.js";

const YEAR_S = 31_536_000;

/** @param {string} host whose pictures they are */
export function askOnline(host) {
  /** @type {HTMLDialogElement} */
  const dialog = byId("online");
  byId("online-host").textContent = host;
  dialog.showModal();
}

byId("online-no").addEventListener("click", () => byId("online").close());
byId("online-yes").addEventListener("click", () => {
  document.cookie = `online-map=yes; path=/; max-age=${YEAR_S}; SameSite=Strict`;
  kept.set("online-map", "on");
  location.reload();
});

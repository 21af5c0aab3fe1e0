// Asks once whether the online map may be shown, and remembers a yes on this phone. The station then
// lets this browser ask for its pictures (Content-Security-Policy), which needs the page anew.

import { byId, kept } from "./dom.js";
import { _ } from "./language.js";

const YEAR_S = 31_536_000;

/** @param {string} host whose pictures they are */
export function askOnline(host) {
  /** @type {HTMLDialogElement} */
  const dialog = byId("online");
  byId("online-says").textContent = _("Its pictures come from {host}. Whoever runs that learns this phone’s address on the network and each place you look at, so also where the payload is, and that you ask by this page. It needs a network, and uses its data.", { host });
  dialog.showModal();
}

byId("online-no").addEventListener("click", () => byId("online").close());
byId("online-yes").addEventListener("click", () => {
  document.cookie = `online-map=yes; path=/; max-age=${YEAR_S}; SameSite=Strict`;
  kept.set("online-map", "on");
  location.reload();
});

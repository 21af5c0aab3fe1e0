// A link with a token after # logs in by itself: that part is sent to nobody and kept in no log.

const token = new URLSearchParams(location.hash.slice(1)).get("token");
/** @type {HTMLInputElement | null} */
const field = document.querySelector("#token");
if (token && field) {
  history.replaceState(null, "", location.pathname);
  field.value = token;
  field.form?.requestSubmit();
}

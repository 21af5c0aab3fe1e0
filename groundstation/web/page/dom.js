// Parts of the page. Text only ever goes in as textContent.

/** @param {string} id @returns {any} */
export const byId = (id) => document.getElementById(id);

/** @param {Element} node @param {string} name @returns {any} */
export const part = (node, name) => node.querySelector(`[data-f="${name}"]`);

/** @param {Element} node @param {string} text */
export function say(node, text) {
  if (node.textContent !== text) node.textContent = text;
}

/** Says it, or takes away the row where there is nothing to say.
 * @param {HTMLElement} node @param {string} text */
export function sayOrHide(node, text) {
  say(node, text);
  show(node, text !== "");
}

/** @param {HTMLElement} node @param {boolean} yes */
export function show(node, yes) {
  if (node.hidden === yes) node.hidden = !yes;
}

// Only what a map link may be; anything else leaves no link at all.
/** @param {Element} node @param {string | undefined} address */
export function link(node, address) {
  const fit = typeof address === "string" && /^(geo:-?\d|https:\/\/)/.test(address);
  if (!fit) node.removeAttribute("href");
  else if (node.getAttribute("href") !== address) node.setAttribute("href", address);
}

/** One row for each item, made from a template.
 * @template T
 * @param {Element} list @param {string} templateId @param {T[]} items
 * @param {(row: any, item: T) => void} put */
export function fill(list, templateId, items, put) {
  while (list.children.length > items.length) list.lastElementChild?.remove();
  while (list.children.length < items.length) {
    list.append(byId(templateId).content.firstElementChild.cloneNode(true));
  }
  items.forEach((item, k) => put(list.children[k], item));
}

// What was chosen is kept on this phone; where that is not allowed it is forgotten.
export const kept = {
  /** @param {string} name @returns {string} */
  get(name) {
    try { return localStorage.getItem(name) ?? ""; } catch { return ""; }
  },
  /** @param {string} name @param {string} value */
  set(name, value) {
    try { localStorage.setItem(name, value); } catch { /* not allowed */ }
  },
};

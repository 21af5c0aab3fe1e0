// The page's texts and numbers in the station's language. The station fills in the next two lines: of
// its catalogue those texts that the page's scripts say.

export const language = "en";
/** @type {Record<string, string | [string[], string]>} */
const TEXTS = {};

// English is that of Britain: 24 hours.
const LOCALE = language === "en" ? "en-GB" : language;

/** @typedef {Record<string, string | number>} Given what goes into the braces of a text */

// Names take endings in some languages: as the station has it (language/endings.py).
/** @type {Record<string, (name: string) => string>} */
const ENDINGS = {
  "tól": (name) => {
    const decides = name.toLowerCase().match(/[aáoóuúeöőüű]/g)?.at(-1) ?? "";
    if (!/\p{L}$/u.test(name) || !/[aáoóuúeöőüűiíé]/i.test(name)) return name + " helyétől";
    return name.replace(/a$/, "á").replace(/e$/, "é") + (/[aáoóuú]/.test(decides) ? "tól" : "től");
  },
};

/** @param {string} text @param {Given} given */
const put = (text, given) => text.replace(/\{(\w+)(?::(\p{L}+))?\}/gu, (whole, name, ending) => {
  const value = String(given[name] ?? whole);
  return ENDINGS[ending]?.(value) ?? value;
});

/** The text in the station's language. @param {string} text @param {Given} [given] */
export function _(text, given = {}) {
  const told = TEXTS[text];
  return put(typeof told === "string" ? told : text, given);
}

/** One text or the other, by the count and the rules of the language; {count} is put in too.
 * @param {string} one @param {string} many @param {number} count @param {Given} [given] */
export function ngettext(one, many, count, given = {}) {
  const told = TEXTS[one];
  // What is told has forms, and for each count below 200 which of them: beyond, the last two digits say it.
  const text = told === undefined ? (count === 1 ? one : many) : typeof told === "string" ? told
    : told[0][Number(told[1][count < 100 ? count : 100 + count % 100])];
  return put(text, { ...given, count: number(count) });
}

/** @type {Map<string, Intl.NumberFormat>} */
const forms = new Map();

/** @param {Intl.NumberFormatOptions} options */
function form(options) {
  const key = JSON.stringify(options);
  const known = forms.get(key) ?? new Intl.NumberFormat(LOCALE, { useGrouping: true, ...options });
  forms.set(key, known);
  return known;
}

/** With so many decimals, or with no more than so many.
 * @param {number} value @param {number} [least] @param {number} [most] */
export const number = (value, least = 0, most = least) =>
  form({ minimumFractionDigits: least, maximumFractionDigits: most }).format(value);

/** @param {number} value @param {number} digits that say something, at most */
export const significant = (value, digits) => form({ maximumSignificantDigits: digits }).format(value);

/** @param {Intl.DateTimeFormatOptions} more @param {string} zone */
export const clock = (more, zone) =>
  new Intl.DateTimeFormat(LOCALE, { hour: "2-digit", minute: "2-digit", hourCycle: "h23", ...more, timeZone: zone });

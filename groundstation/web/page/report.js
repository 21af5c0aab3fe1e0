// The report of a closed flight: made by the station, its steps told, opened when it is there.

import { part, show } from "./dom.js";
import { _ } from "./language.js";

/** @param {Element} node @param {string} name @returns {any} */
const button = (node, name) => node.querySelector(`[data-do="${name}"]`);
const EVERY_MS = 1000;

export class Report {
  /** @param {HTMLElement} card @param {string} payload @param {(address: string, body: object) => Promise<any>} post */
  constructor(card, payload, post) {
    this.card = card;
    this.payload = payload;
    this.post = post;
    this.query = `payload=${encodeURIComponent(payload)}`;
    /** @type {any} */
    this.words = null;
    /** @type {string | null | undefined} */
    this.closed = undefined;
    this.again = 0;
    part(card, "report-of").textContent = _("The report on {payload}", { payload });
    button(card, "report").addEventListener("click", () => this.make(false));
    button(card, "keep-lesson").addEventListener("click", () => this.make(true));
    part(card, "report-link").href = `/report?${this.query}`;
  }

  /** Asks the station when the flight is closed or opened again, not more.
   * @param {import("./state").PayloadSnapshot} payload @param {any} words */
  put({ found }, words) {
    this.words = words;
    const closed = found?.time ?? null;
    if (closed === this.closed) return;
    this.closed = closed;
    this.ask();
  }

  async ask() {
    const answer = await fetch(`/api/report?${this.query}`).catch(() => null);
    if (!answer?.ok || answer.status === 204) return;
    const told = await answer.json();
    show(this.card, Boolean(this.closed || told.made || told.step));
    this.tell(told);
  }

  /** @param {boolean} keep */
  async make(keep) {
    const { error, told } = await this.post("/api/report", { payload: this.payload, keep_lesson: keep });
    if (error) part(this.card, "report-says").textContent = error;
    else this.tell(told);
  }

  /** @param {any} told */
  tell({ step, made, problem, lesson, kept }) {
    const { card, words } = this;
    const says = step ? _("Under way: {step}.", { step }) : problem ? _("Nothing was made: {problem}.", { problem })
      : made ? [_("Made {time}.", { time: words.time(made) }), kept ? _("Its lesson is kept in lessons.toml beside the database.") : ""].join(" ")
        : _("The flight is closed: the station can write its report, which ends with what it teaches.");
    part(card, "report-says").textContent = says;
    button(card, "report").disabled = button(card, "keep-lesson").disabled = Boolean(step);
    button(card, "report").textContent = made ? _("Make it again") : _("Make the report");
    part(card, "report-link").hidden = !made;
    part(card, "report-taught").hidden = !lesson;
    part(card, "report-lesson").textContent = lesson;
    clearTimeout(this.again);
    if (step) this.again = setTimeout(() => this.ask(), EVERY_MS);
  }
}

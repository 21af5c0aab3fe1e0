// Asks the station for its state again and again, and knows how old the last answer is.

const EVERY_MS = 2000;
const PATIENCE_MS = 5000;
export const LOST_AFTER_S = 6; // three questions without an answer

export class Contact {
  constructor(onState) {
    this.onState = onState;
    this.state = null;
    this.opened = this.moment();
    this.asked = this.opened;
    this.trouble = "";
    this.timer = 0;
    document.addEventListener("visibilitychange", () => document.hidden || this.hurry());
    window.addEventListener("online", () => this.hurry());
  }

  moment() { return { steady: performance.now(), wall: Date.now() }; }

  // The steady clock stops while some phones sleep and the wall clock may be set back: the
  // larger of the two never makes old look new.
  secondsSince(then) {
    const now = this.moment();
    return Math.max(0, now.steady - then.steady, now.wall - then.wall) / 1000;
  }

  // Real seconds since the answer shown was asked for; since the page was opened where there is none.
  get silence() { return this.secondsSince(this.asked); }

  get lost() { return this.silence > LOST_AFTER_S; }

  // How far the station's clock has gone since its answer.
  get drift() { return this.state === null ? 0 : this.silence * (this.state.speed ?? 1); }

  hurry() {
    clearTimeout(this.timer);
    if (!this.busy) this.ask();
  }

  async ask() {
    this.busy = true;
    const asked = this.moment();
    const stop = new AbortController();
    const limit = setTimeout(() => stop.abort(), PATIENCE_MS);
    try {
      const answer = await fetch("/api/state", { cache: "no-store", signal: stop.signal });
      if (!answer.ok) throw new Error(`answer ${answer.status}`);
      const state = await answer.json();
      this.state = state;
      this.asked = asked;
      this.trouble = "";
    } catch (error) {
      this.trouble = String(error);
    } finally {
      clearTimeout(limit);
      this.busy = false;
      this.timer = setTimeout(() => this.ask(), EVERY_MS);
    }
    this.onState();
  }
}

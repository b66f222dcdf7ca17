// The garment that is being worked on: read, changed by one action after the other, each saved at once by the server.

import { ask, follow, tab, tellLast, Refused } from "./api.js";
import { t } from "./words.js";

const EVERY = 4000; // ms between looks whether the record was changed elsewhere

/** One record. Tells `changed` (a new garment) and `news` (a sentence, whether it is bad) to whoever listens. */
export class Store extends EventTarget {
  constructor(record) {
    super();
    this.record = record;
    this.garment = null;
    this.queue = Promise.resolve();
    this.waiting = 0;
    this.timer = setInterval(() => this.look(), EVERY);
    this.bye = () => this.leave();
    addEventListener("pagehide", this.bye);
  }

  async open() {
    this.take(await ask("garment", { record: this.record, tab }));
    return this.garment;
  }

  take(garment) {
    this.garment = garment;
    this.dispatchEvent(new Event("changed"));
  }

  news(text, kind = "") {
    this.dispatchEvent(Object.assign(new Event("news"), { text, kind }));
  }

  /** Do an action, once those before it are saved. Gives whether it was done. */
  edit(action) {
    return this.then(() => ask("edit", { record: this.record, tab, action, expects: this.garment.revision }), t("chalk.saved"));
  }

  undo() {
    return this.then(() => ask("undo", { record: this.record, tab, expects: this.garment.revision }), t("chalk.undone"));
  }

  redo() {
    return this.then(() => ask("redo", { record: this.record, tab, expects: this.garment.revision }), t("chalk.redone"));
  }

  then(work, word) {
    this.waiting += 1;
    this.dispatchEvent(new Event("saving"));
    const done = this.queue.then(async () => {
      try {
        const garment = await work();
        this.waiting -= 1;
        this.news(word);
        this.take(garment);
        if (garment.job) await this.find(garment.job);
        return true;
      } catch (error) {
        this.waiting -= 1;
        await this.failed(error);
        return false;
      }
    });
    this.queue = done.catch(() => {});
    return done;
  }

  async find(job) {
    this.dispatchEvent(Object.assign(new Event("finding"), { on: true, job }));
    try {
      await follow(job, (told) => this.dispatchEvent(Object.assign(new Event("finding"), { on: true, told })));
      await this.open();
    } finally {
      this.dispatchEvent(Object.assign(new Event("finding"), { on: false }));
    }
  }

  async failed(error) {
    this.news(error.message, "bad");
    if (!(error instanceof Refused)) return;
    if (error.elsewhere) this.take({ ...this.garment, held: true });
    if (error.stale) await this.open();
  }

  async takeOver() {
    this.take(await ask("take_over", { record: this.record, tab }));
  }

  /** Whether the record is still what is shown: a command or another tab may have changed it. */
  async look() {
    if (!this.garment || this.waiting || document.hidden) return;
    const shown = this.garment;
    try {
      const told = await ask("state", { record: this.record, tab });
      if (this.waiting || this.garment !== shown) return; // what was told is older than what is shown by now
      if (told.revision !== this.garment.revision) {
        await this.open();
        this.news(t("chalk.changed"));
      } else if (told.held !== this.garment.held) {
        this.take({ ...this.garment, held: told.held });
        if (told.held) this.news(t("chalk.taken"), "bad");
      }
      this.dispatchEvent(Object.assign(new Event("reached"), { on: true }));
    } catch (error) {
      this.dispatchEvent(Object.assign(new Event("reached"), { on: false, error }));
    }
  }

  leave() {
    tellLast("state", { record: this.record, tab, leave: true });
  }

  close() {
    clearInterval(this.timer);
    removeEventListener("pagehide", this.bye);
    this.leave();
  }
}

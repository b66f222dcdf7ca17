// The answer to a project, asked again after each change: a first word at once, then what a longer search finds.

import { ask, follow } from "./api.js";
import { h } from "./dom.js";
import { t } from "./words.js";

const LOOKS = { yes: "yes", "yes-with-joins": "yes", "too-close": "close", no: "no", unsettled: "open" };

export class Answering {
  /** tell(answer, old, error, searching): an answer, or the last one while it is old; searching: it is not settled yet. */
  constructor(record, project, tell, { improve = false, working = () => {} } = {}) {
    Object.assign(this, { records: [record], project, tell, improve, working });
    this.turn = 0;
    this.answer = null;
    this.pins = [];
  }

  old() {
    if (this.project) this.tell(this.answer, true);
  }

  async ask() {
    if (!this.project) return;
    const mine = ++this.turn;
    const asked = { records: this.records, project: this.project, pins: this.pins };
    this.tell(this.answer, true);
    this.working(null, true);
    try {
      const first = await ask("answer", asked);
      const answer = first.result ?? (await follow(first.job, (job) => mine === this.turn && this.working(job.share, true)));
      if (mine !== this.turn || !answer) return;
      const more = this.improve && !settled(answer);
      this.take(answer, more);
      if (more) {
        this.working(0, false);
        const longer = await ask("answer", { ...asked, improve: true });
        this.job = longer.job;
        const better = longer.result ?? (await follow(longer.job, (job) => mine === this.turn && this.working(job.share, false)));
        if (mine === this.turn && better) this.take(better);
      }
    } catch (error) {
      if (mine === this.turn) this.tell(null, false, error);
    } finally {
      if (mine === this.turn) this.working(null, false, true);
    }
  }

  take(answer, searching = false) {
    this.answer = answer;
    this.tell(answer, false, null, searching && answer.verdict === "unsettled");
  }

  stop() {
    if (this.job) ask("stop", { job: this.job }).catch(() => {});
  }

  close() {
    this.turn += 1;
    this.stop();
  }
}

// What would help is looked for by the longer search.
const settled = (answer) => answer.verdict === "no" && answer.helps.length > 0;

export const lookOf = (answer) => (answer.unsuited.length ? "no" : LOOKS[answer.verdict]);

/** The verdict in a line, which leads to the answer. */
export function verdictLine(place, answer, old, desk, record, searching = false) {
  place.classList.toggle("old", old);
  if (!answer) {
    place.replaceChildren(old ? h("p", { class: "quiet" }, t("answer.searching")) : "");
    return;
  }
  const kind = { yes: "good", close: "mindful", no: "bad", open: "" }[lookOf(answer)];
  place.replaceChildren(
    h("a", { class: `stamp ${kind}`, href: desk.address("answer", record, desk.last.project) }, h("span", { class: "sign", "aria-hidden": true }, searching ? "…" : answer.mark), h("span", {}, searching ? t("answer.looking") : answer.headline, old ? h("small", {}, ` (${t("answer.old")})`) : "")),
  );
}

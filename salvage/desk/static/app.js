// Where one is in the job: the address behind # names the screen and what it is about, so that a step back, a reload
// or a closed page loses nothing: #/found/coat.json, #/answer/coat.json/tool_roll.toml.

import { ask, enter, known, Lost, Refused } from "./api.js";
import { h, refs, screen } from "./dom.js";
import { readWords, t } from "./words.js";

const SCREENS = ["shelf", "rail", "photo", "cloth", "found", "project", "answer", "keep"];
const page = refs(document);

/** What every screen shares: the folder's settings, what is being worked on, and ways to speak. */
export const desk = {
  settings: { units: "mm", side: "" },
  live(text) {
    page.live.textContent = text;
  },
  notice(text, { bad = false, again = null } = {}) {
    page.notice.hidden = !text;
    page.notice.className = `notice${bad ? " bad" : ""}`;
    page.notice.replaceChildren(text ?? "", again ? h("button", { type: "button", class: "button small", onclick: again }, t("app.again")) : "");
  },
  /** Tell of an error in a place where it can be seen. */
  failed(error) {
    if (error.name === "AbortError") return;
    console.error(error);
    desk.notice(error instanceof Refused || error instanceof Lost ? error.message : t("app.unknown_error"), { bad: true, again: error instanceof Lost ? show : null });
  },
  go(...parts) {
    location.hash = `#/${parts.map(encodeURIComponent).join("/")}`;
  },
  address: (...parts) => `#/${parts.map(encodeURIComponent).join("/")}`,
  /** The garment and project last worked on, for the tape's steps. */
  last: JSON.parse(sessionStorage.getItem("salvage last") ?? "{}"),
  remember(more) {
    Object.assign(desk.last, more);
    sessionStorage.setItem("salvage last", JSON.stringify(desk.last));
  },
  async folder() {
    const before = desk.settings;
    const folder = await ask("folder");
    if (desk.settings === before) desk.settings = folder.settings; // unless they were changed meanwhile
    page.units.value = folder.settings.units;
    return folder;
  },
};

let left = () => {};
let turn = 0;

async function show() {
  const mine = ++turn;
  const [name = "", ...about] = location.hash.replace(/^#\/?/, "").split("/").map(decodeURIComponent);
  const wanted = SCREENS.includes(name) ? name : "shelf";
  left();
  left = () => {};
  desk.notice("");
  steps(wanted, about);
  const element = screen(wanted);
  const main = document.getElementById("main");
  try {
    const { open } = await import(`./${wanted}.js`);
    if (mine !== turn) return;
    main.replaceChildren(element);
    main.className = wanted;
    scrollTo(0, 0);
    const leave = await open(element, about, desk);
    if (mine !== turn) {
      leave?.(); // another screen was opened meanwhile: its title and its focus stay
      return;
    }
    left = leave ?? (() => {});
    const title = element.querySelector("h1")?.textContent;
    document.title = title ? `${title} · ${t("app.name")}` : t("app.title");
    if (mine > 1 && !element.contains(document.activeElement)) main.focus({ preventScroll: true });
  } catch (error) {
    if (mine === turn) desk.failed(error);
  }
}

/** The tape: which steps are behind, where one is, and which can be gone to. */
function steps(name, about) {
  if (["found", "project", "answer", "keep"].includes(name) && about[0]) desk.remember({ record: about[0] });
  if (["answer", "keep"].includes(name) && about[1]) desk.remember({ project: about[1] });
  if (name === "photo" && about[1]) desk.remember({ record: about[1] }); // another side of it
  else if (name === "photo" && (about[0] || null) !== desk.last.photo) desk.remember({ photo: about[0] || null, record: null });
  const { photo, record, project } = desk.last;
  const to = {
    photo: photo ? desk.address("photo", photo) : "#/photo",
    found: record && desk.address("found", record),
    project: record && desk.address("project", record),
    answer: record && project && desk.address("answer", record, project),
    keep: record && project && desk.address("keep", record, project),
  };
  const order = Object.keys(to);
  page.where.textContent = record ?? photo ?? "";
  for (const link of document.querySelectorAll("[data-step]")) {
    const step = link.dataset.step;
    const href = to[step];
    if (href) link.setAttribute("href", href);
    else link.removeAttribute("href");
    link.toggleAttribute("aria-current", step === name);
    if (step === name) link.setAttribute("aria-current", "step");
    link.classList.toggle("past", Boolean(href) && order.indexOf(step) < order.indexOf(name));
  }
}

/** A bar of progress in a place; gives what moves it: move(share or null, sentence), done(). */
export function progress(place, words, { stop = null, word = t("answer.stop") } = {}) {
  const said = h("span", {}, words);
  const seconds = h("span", {});
  const fill = h("div", { class: "fill" });
  const track = h("div", { class: "track", role: "progressbar", "aria-label": words, "aria-valuemin": 0, "aria-valuemax": 100 }, fill);
  const bar = h("div", { class: "bar unknown" }, h("p", {}, said, seconds), track, stop && h("button", { type: "button", class: "link", onclick: stop }, word));
  const begun = Date.now();
  const clock = setInterval(() => (seconds.textContent = t("job.seconds", { seconds: Math.round((Date.now() - begun) / 1000) })), 1000);
  place.replaceChildren(bar);
  return {
    move(share, text = null) {
      bar.classList.toggle("unknown", share === null);
      if (share !== null) {
        fill.style.width = `${Math.round(100 * share)}%`;
        track.setAttribute("aria-valuenow", Math.round(100 * share));
      }
      if (text) said.textContent = text;
    },
    done() {
      clearInterval(clock);
      bar.remove();
    },
  };
}

async function start() {
  await readWords();
  try {
    await enter();
  } catch (error) {
    if (!known()) return refused(error);
  }
  if (!known()) return refused(new Refused(401, { error: "refused.pass" }));
  try {
    await desk.folder();
  } catch (error) {
    return refused(error);
  }
  page.units.addEventListener("change", async () => {
    try {
      desk.settings = await ask("settings", { units: page.units.value });
      await show();
    } catch (error) {
      desk.failed(error);
    }
  });
  addEventListener("hashchange", async () => {
    const key = location.hash.slice(1);
    try {
      if (key && !key.startsWith("/")) await enter(); // the program was started again, and its new address opened here
    } catch (error) {
      desk.failed(error);
      return;
    }
    await show();
  });
  await show();
}

function refused(error) {
  desk.notice(error.message, { bad: true });
}

start();

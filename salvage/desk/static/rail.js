// The rail: every garment of the folder as a card, to search, to sort, and to ask what can be made of it.

import { ask, follow, picture_of, tab } from "./api.js";
import { progress } from "./app.js";
import { h, refs } from "./dom.js";
import { t } from "./words.js";

const PAUSE = 300; // ms after the last key before it is searched
const SIGNS = { yes: ["✓", "good"], "yes-with-joins": ["✓", "good"], "too-close": ["!", "mindful"], unsettled: ["…", ""], no: ["✗", "bad"], unsuited: ["✗", "bad"] }; // the best first
const KEPT = "salvage rail"; // what was searched for last, in this tab

const SHORT = 32; // letters of a reason that are told at once

export async function open(element, [first], desk) {
  const at = refs(element);
  const stop = new AbortController();
  let turn = 0;
  let timer = 0;
  let told = null;
  const made = new Map(); // record -> what is known of what can be made of it
  at.unit.textContent = desk.settings.units;
  at.side.value = desk.settings.side ?? "";
  const fields = [...at.choose.elements].filter((each) => each.name);
  const kept = JSON.parse(sessionStorage.getItem(KEPT) ?? "{}");
  for (const each of fields) if (kept[each.name] !== undefined && each.name !== "cloth") each.value = kept[each.name];

  async function search() {
    const mine = ++turn;
    const form = Object.fromEntries(fields.map((each) => [each.name, each.value]));
    if (!told) form.cloth = kept.cloth ?? ""; // its choices are known only afterwards
    sessionStorage.setItem(KEPT, JSON.stringify(form));
    const { text, cloth, used, sort, width, length } = form;
    let bar = null;
    try {
      const first_word = await ask("rail", { text, cloth, used, sort, least: [width, length] });
      if (first_word.state !== "done" && mine === turn) bar = progress(at.progress, t("rail.reading"));
      const answer = first_word.state === "done" ? first_word.result : await follow(first_word.job, (job) => bar?.move(job.share), stop.signal);
      if (mine !== turn || !answer) return;
      desk.notice("");
      told = answer;
      draw(cloth);
    } catch (error) {
      if (mine === turn) desk.failed(error);
    } finally {
      bar?.done();
    }
  }
  at.choose.addEventListener("input", () => {
    clearTimeout(timer);
    timer = setTimeout(search, PAUSE);
  });
  at.choose.addEventListener("submit", (event) => {
    event.preventDefault();
    clearTimeout(timer);
    search();
  });

  function draw(cloth) {
    const option = (kind, value) => h("option", { value: `${kind}:${value}`, selected: cloth === `${kind}:${value}` }, value);
    at.cloth.replaceChildren(at.cloth.firstElementChild, ...told.kinds.map((each) => option("kind", each)), ...told.fabrics.map((each) => option("fabric", each)));
    const by_file = new Map(told.cards.map((each) => [each.file, each]));
    const shown = told.shown.map((file) => by_file.get(file));
    at.count.textContent = told.cards.length ? [t("rail.count", { shown: shown.length, all: told.cards.length }), ...told.totals.map(([fabric, area]) => t("rail.sum", { fabric, area }))].join(" · ") : t("rail.empty");
    at.cards.replaceChildren(...shown.map(card));
    if (told.cards.length && !shown.length) at.cards.replaceChildren(h("li", { class: "quiet" }, t("rail.none")));
    waiting();
  }

  function waiting() {
    const count = told.waiting.length;
    at.waiting.hidden = !count && !at.hanging.children.length;
    at.hang_form.hidden = !count;
    at.waiting_said.textContent = count === 1 ? t("rail.waiting_one") : count ? t("rail.waiting", { count }) : "";
    at.bad_block.hidden = !told.bad.length;
    at.bad.replaceChildren(
      ...told.bad.map((each) =>
        h("li", {}, h("span", { class: "grow" }, h("strong", {}, each.file), h("small", {}, each.reason)), /\.json$/.test(each.file) ? "" : h("a", { class: "button small", href: desk.address("photo", each.file), "aria-label": `${t("rail.look")}: ${each.file}` }, t("rail.look"))),
      ),
    );
  }

  // --- a card -------------------------------------------------------------------------------------------

  function card(each) {
    const lines = each.fabrics.map((f) => h("li", {}, t(f.largest_words ? "rail.largest" : "rail.line", { fabric: f.fabric, area: f.area_words, size: f.largest_words })));
    const more = h("div", { class: "madeof", "data-made": each.file });
    const button = (word, work, label) => h("button", { type: "button", class: "button small", "aria-label": label, onclick: work }, word);
    const item = h(
      "li", { class: `hanger${each.used ? " used" : ""}`, "data-file": each.file },
      h("a", { class: "shot", href: desk.address("found", each.file), tabindex: -1, "aria-hidden": "true" }, shot(each)),
      h(
        "div", { class: "said" },
        h("h2", {}, h("a", { href: desk.address("found", each.file) }, each.name)),
        h("p", { class: "quiet" }, [each.kind, each.photographed, each.rest_of && t("rail.rest_of", { name: each.rest_of })].filter(Boolean).join(" · ")),
        each.used ? h("p", { class: "flag" }, each.used) : "", each.why_not ? h("p", { class: "flag" }, each.why_not) : "",
        h("ul", { class: "plainlist" }, lines),
        each.saved.length ? h("p", { class: "quiet" }, t("rail.save", { list: each.saved.join(", ") })) : "",
        each.questions ? h("p", {}, h("a", { class: "tag", href: desk.address("found", each.file) }, t("shelf.asked", { count: each.questions }))) : "",
        h(
          "p", { class: "row" },
          each.used ? "" : button(t("rail.make"), () => make(each), `${t("rail.make")} ${each.name}`),
          each.used ? button(t("rail.free"), () => use(each, false), t("rail.free_label", each)) : button(t("rail.use"), () => use(each, true), t("rail.use_label", each)),
        ),
        more,
      ),
    );
    drawMade(each, more);
    return item;
  }

  function shot(each) {
    const image = h("img", { alt: "", class: "hungshot" });
    watch(image, () => picture_of(each.content).then((address) => (image.src = address), () => image.classList.add("none")));
    return image;
  }

  const seen = new IntersectionObserver((entries) => {
    for (const entry of entries) {
      if (!entry.isIntersecting) continue;
      seen.unobserve(entry.target);
      later.get(entry.target)?.();
    }
  }, { rootMargin: "300px" });
  const later = new Map();
  function watch(image, work) {
    later.set(image, work);
    seen.observe(image);
  }

  async function use(each, used) {
    const purpose = used ? prompt(t("rail.use_for"), "") : "";
    if (purpose === null) return;
    try {
      await ask("rail_used", { record: each.file, used, purpose, tab });
      await search();
      at.cards.querySelector(`[data-file="${CSS.escape(each.file)}"] button`)?.focus();
    } catch (error) {
      desk.failed(error);
    }
  }

  // --- what can be made of it -----------------------------------------------------------------------------

  async function make(each) {
    made.set(each.file, { answers: [], of: 0, running: true });
    again(each);
    try {
      const { job } = await ask("rail_made", { record: each.file });
      const all = await follow(job, (now) => {
        if (!now.result) return;
        made.set(each.file, { ...now.result, running: now.state === "running" });
        again(each);
      }, stop.signal);
      if (all) made.set(each.file, all);
      else if (made.has(each.file)) made.set(each.file, { ...made.get(each.file), running: false });
      again(each);
      desk.live(t("rail.made", each));
    } catch (error) {
      made.delete(each.file);
      again(each);
      desk.failed(error);
    }
  }

  function again(each) {
    const place = at.cards.querySelector(`[data-made="${CSS.escape(each.file)}"]`);
    if (place) drawMade(each, place);
  }

  const opened = new Set(); // whose reason is being read while more answers come
  function why(each, answer) {
    const key = `${each.file} ${answer.project}`;
    const block = h("details", { class: "why", open: opened.has(key), ontoggle: () => (block.open ? opened.add(key) : opened.delete(key)) }, h("summary", { "aria-label": `${t("rail.why")}: ${answer.name}` }, shortly(answer.reason)), h("p", {}, answer.reason));
    return block;
  }

  const ORDER = Object.keys(SIGNS);
  function drawMade(each, place) {
    const now = made.get(each.file);
    if (!now) {
      place.replaceChildren();
      return;
    }
    const answers = [...now.answers].sort((a, b) => ORDER.indexOf(a.verdict) - ORDER.indexOf(b.verdict));
    place.replaceChildren(
      h("h3", {}, t("rail.made", each)),
      now.running ? h("p", { class: "quiet" }, t("rail.making", { done: now.answers.length, of: now.of || "…" })) : answers.some((a) => a.verdict !== "no" && a.verdict !== "unsuited") ? "" : h("p", {}, t("rail.nothing")),
      h(
        "ul", { class: "plainlist" },
        answers.map((a) => {
          const [sign, kind] = SIGNS[a.verdict] ?? SIGNS.unsettled;
          return h(
            "li", { class: "madeline", "data-verdict": a.verdict },
            h("span", { class: `chip ${kind}` }, h("span", { "aria-hidden": true }, sign), " ", t(`verdict.${a.verdict}`)),
            h("span", { class: "grow" }, h("a", { href: desk.address("answer", each.file, a.project) }, a.name), a.reason ? why(each, a) : ""),
          );
        }),
      ),
    );
  }

  // --- photographs that are not measured yet ------------------------------------------------------------------

  at.hang_form.addEventListener("submit", async (event) => {
    event.preventDefault();
    at.hang.disabled = true;
    let job = null;
    const bar = progress(at.hanging, t("rail.measuring", { done: 0, of: told.waiting.length }), { stop: () => job && ask("stop", { job }).catch(() => {}), word: t("rail.stop") });
    try {
      desk.settings = await ask("settings", { side: at.side.value });
      at.side.value = desk.settings.side;
      ({ job } = await ask("rail_hang", { side: at.side.value }));
      let done_before = -1;
      const result = await follow(job, (now) => {
        const [done, of, left] = now.counts ?? [0, told.waiting.length, null];
        bar.move(now.share, `${t("rail.measuring", { done: Math.min(done + 1, of), of })}${left === null ? "" : `, ${left < 60 ? t("rail.left_soon") : t("rail.left", { minutes: Math.ceil(left / 60) })}`}`);
        if (done > done_before && done_before >= 0) search();
        done_before = done;
      }, stop.signal);
      bar.done();
      if (result) desk.live(t("rail.measured", { count: result.measured }));
      await search();
      if (result) {
        told.bad = result.bad;
        waiting();
        at.waiting.hidden = !result.waiting.length;
      }
    } catch (error) {
      desk.failed(error);
    } finally {
      bar.done();
      at.hang.disabled = false;
    }
  });

  await search();
  const wanted = first && told?.cards.find((each) => each.file === first);
  if (wanted) {
    at.cards.querySelector(`[data-file="${CSS.escape(first)}"]`)?.scrollIntoView({ block: "start" });
    make(wanted);
  }
  return () => {
    clearTimeout(timer);
    stop.abort();
    seen.disconnect();
  };
}

/** What a reason begins with, where that is short; the rest is told on a tap. */
function shortly(reason) {
  const [first] = reason.split(/[:;.]\s/);
  return first.length <= SHORT && first !== reason ? first : t("rail.why");
}

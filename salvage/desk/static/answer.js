// Yes or no: the verdict, the layout on the photograph, what would help; panels can be dragged and pinned.

import { ask, follow } from "./api.js";
import { progress } from "./app.js";
import { Answering, lookOf } from "./answering.js";
import { Board } from "./board.js";
import { h, refs, ring, s } from "./dom.js";
import { boxOfAll, drawGarment } from "./garment.js";
import { t } from "./words.js";

const COLOURS = ["#56b4e9", "#e69f00", "#35b08f", "#cc79a7", "#f0e442", "#6f8fd6", "#d98a5b", "#b5b5ad"]; // report/pen/palette.py
const STEP = 6; // screen pixels that a key moves a panel
const EVERY = 90; // ms between looks at the checker while a panel is dragged

export async function open(element, [record, project], desk) {
  const at = refs(element);
  if (!record || !project) {
    at.verdict.replaceChildren(h("h1", {}, t("answer.title")), h("p", {}, t("answer.choose_first")));
    return undefined;
  }
  let garment = await ask("garment", { record });
  const listeners = {};
  const board = new Board(at.board, t("answer.drag"), listeners);
  let answer = null;
  let bar = null;
  const stop = new AbortController();
  let picked = null; // index of a placement
  const pinned = `salvage pins ${record} ${project}`;
  let pins = JSON.parse(sessionStorage.getItem(pinned) ?? "[]"); // also after a step to the report and back
  let taken_up = pins.length > 0;
  let moved = null; // {placement} that is being moved
  at.keep.href = desk.address("keep", record, project);
  at.correct.href = desk.address("found", record);
  at.print.addEventListener("click", () => print());
  at.other.href = desk.address("project", record);

  const answering = new Answering(record, project, told, {
    improve: true,
    working(share, first, over = false) {
      if (over) {
        bar?.done();
        bar = null;
        return;
      }
      const words = t(first ? "answer.searching" : answer?.verdict === "no" ? "answer.looking_help" : "answer.longer");
      bar ??= progress(at.progress, words, { stop: first ? null : () => answering.stop() });
      bar.move(share, words);
    },
  });

  function told(given, old, error = null, searching = false) {
    element.classList.toggle("old", old);
    if (error && taken_up) {
      unpin(null); // the garment or the project is another one by now
      return;
    }
    taken_up = taken_up && !given;
    if (error) {
      at.verdict.replaceChildren(h("h1", {}, t("answer.title")), h("p", { class: "caution" }, error.message));
      return;
    }
    if (!given) {
      at.verdict.replaceChildren(h("h1", {}, t("answer.title")));
      return;
    }
    answer = { ...given, placements: given.placements.map(onGround) };
    picked = picked !== null && picked < answer.placements.length ? picked : null;
    verdict(old, searching);
    layout();
    panelBar();
  }

  /** A placement with its place in pixels also where its cloth was typed in and lies on plain ground. */
  function onGround(placement) {
    const ground = garment.photos.find((each) => each.file === "");
    if (placement.shape_px || !ground) return placement;
    const [x0, y0] = ground.origin;
    return { ...placement, photo: "", shape_px: placement.shape.coordinates[0].slice(0, -1).map(([x, y]) => [x - x0, y0 - y]) };
  }

  function verdict(old, searching) {
    const list = (items, plain = "") => h("ul", { class: `bullets ${plain}` }, items.map((each) => h("li", {}, each)));
    at.verdict.replaceChildren(
      h(
        "section", { class: `verdict ${lookOf(answer)}`, "aria-live": "polite", "data-verdict": searching ? "searching" : answer.verdict },
        h("h1", {}, h("span", { class: "sign", "aria-hidden": true }, searching ? "…" : answer.mark), searching ? t("answer.looking") : answer.headline),
        old ? h("p", { class: "worked" }, t("answer.old")) : "",
        list(answer.reasons, "plain"), answer.not_placed.length && answer.placements.length ? h("p", {}, t("answer.not_placed", { list: [...new Set(answer.not_placed)].join(", ") })) : "", answer.larger ? h("p", {}, answer.larger) : "", spare(), searching ? "" : h("p", { class: "step" }, answer.next_step), inDoubt(),
      ),
    );
    const block = (title, ...inside) => [h("h2", {}, title), ...inside];
    at.more.replaceChildren(
      ...[...(garment.used ? [t("found.used", { said: garment.used })] : []), ...answer.cautions].map((each) => h("p", { class: "caution" }, each)),
      ...helps(),
      ...(answer.join_plan.length ? block(t("answer.joins"), list(answer.join_plan)) : []),
      ...(answer.left_said.length ? block(t("answer.left"), list(answer.left_said.map((each) => `${each.fabric}: ${each.area}${each.largest.length ? `, ${t("answer.largest", { list: each.largest.join(", ") })}` : ""}`), "plain")) : []),
      ...(answer.notes.length ? block(t("answer.notes"), list(answer.notes, "plain")) : []),
      ...(answer.placements.length ? block(t("answer.placed"), h("p", { class: "hint" }, t("answer.drag")), h("ul", { class: "list" }, answer.placements.map(panelLine))) : []),
      h("p", { class: "quiet" }, answer.allowance),
      ...(answer.trial ? [h("p", { class: "trial" }, t("answer.trial"), " ", h("button", { type: "button", class: "button small", onclick: () => keep() }, t("answer.keep_project")))] : []),
    );
  }

  // --- what would help -------------------------------------------------------------------------------

  function helps() {
    if (!["no", "unsettled", "too-close"].includes(answer.verdict)) return [];
    const ways = answer.helps.map((each) => h("li", {}, h("span", { class: "grow" }, each.text), each.doable ? h("button", { type: "button", class: "button small", onclick: () => change(each), "aria-label": `${t("answer.do")}: ${each.text}` }, t("answer.do")) : ""));
    return [
      ...(ways.length ? [h("h2", {}, t("answer.help")), h("p", { class: "hint" }, t("answer.help_hint")), h("ul", { class: "list helps" }, ways)] : []),
      h("h2", {}, t("answer.elsewhere")),
      h(
        "p", { class: "row" },
        h("a", { class: "button small", href: desk.address("photo", "", record) }, t("found.another_side")),
        h("button", { type: "button", class: "button small", onclick: () => elsewhere(), disabled: others?.running }, t("answer.others")),
        h("a", { class: "button small", href: desk.address("rail", record) }, t("answer.what_else")),
      ),
      others ? othersFound() : "",
    ];
  }

  async function change(each) {
    try {
      const told = await ask("help", { project, edits: each.edits, percent: each.percent });
      desk.go("answer", record, told.file);
    } catch (error) {
      desk.failed(error);
    }
  }

  async function keep() {
    try {
      await ask("keep_project", { project });
      answer = { ...answer, trial: false };
      verdict(false, false);
      desk.live(t("answer.project_kept"));
    } catch (error) {
      desk.failed(error);
    }
  }

  let others = null; // other garments of the folder that the project can be cut from, as they are found
  function othersFound() {
    return h(
      "div", { role: "status" },
      h("ul", { class: "list" }, others.found.map((each) => h("li", {}, h("span", { class: "chip good" }, "✓ ", t(`verdict.${each.verdict}`)), h("a", { class: "grow", href: desk.address("answer", each.file, project) }, each.name)))),
      others.running ? h("p", { class: "quiet" }, t("answer.asking_others")) : others.found.length ? "" : h("p", {}, t("answer.no_others")),
    );
  }

  async function elsewhere() {
    others = { found: [], running: true };
    verdict(false, false);
    try {
      const { job } = await ask("rail_others", { project, records: [record] });
      const all = await follow(job, (now) => {
        if (now.result && now.result.found.length > others.found.length) {
          others = { ...now.result, running: true };
          verdict(false, false);
        }
      }, stop.signal);
      others = { ...(all ?? others), running: false };
    } catch (error) {
      others = null;
      desk.failed(error);
    }
    if (!stop.signal.aborted) verdict(false, false);
  }

  function inDoubt() {
    const count = garment.questions.filter((each) => !each.answer).length;
    return count ? h("p", { class: "doubt" }, t("answer.open", { count }), " ", h("a", { href: desk.address("found", record) }, t("answer.open_go"))) : "";
  }

  function spare() {
    if (answer.spare === null) return "";
    const most = Math.max(answer.spare, answer.plus_minus, 1);
    const row = (key, value, said, kind) => {
      const rod = h("span", { class: `rod ${kind}` });
      rod.style.width = `${(100 * Math.max(value, 0)) / most}%`;
      return h("div", {}, h("span", {}, t(key)), h("span", {}, rod), h("span", {}, said));
    };
    return h("div", { class: "ruler" }, row("answer.spare", answer.spare, answer.spare_said, ""), answer.plus_minus ? row("answer.plus_minus", answer.plus_minus, answer.plus_minus_said, "need") : "", h("p", { class: "hint" }, t("answer.spare_hint")));
  }

  const nameOf = (each) => `${each.panel}${each.copy > 1 || answer.placements.filter((p) => p.panel === each.panel).length > 1 ? ` ${each.copy}` : ""}${each.part ? `.${each.part}` : ""}`;
  const key = (each) => `${each.panel} ${each.copy} ${each.part ?? ""}`;
  const pinnedAs = (each) => pins.find((pin) => key(pin) === key(each));

  function panelLine(each, n) {
    return h(
      "li", {}, h("span", { class: "grow" }, nameOf(each), h("small", {}, `${t("answer.on_piece", each)}${pinnedAs(each) ? `, ${t("answer.pinned")}` : ""}${each.flipped ? `, ${t("answer.flip_note")}` : ""}`)),
      h("button", { type: "button", class: "button small", "aria-label": `${t("found.show")}: ${nameOf(each)}`, onclick: () => choose(n, true) }, t("found.show")),
    );
  }

  function layout() {
    drawGarment(board, garment, {}, { marks: false, names: false });
    const names = [...new Set(answer.placements.map((each) => each.panel))];
    const layer = s("g", { class: "laidlayer" });
    answer.placements.forEach((each, n) => {
      const shown = moved?.n === n ? moved.placement : each;
      if (!shown.shape_px || shown.photo !== board.photo) return;
      const d = ring(shown.shape_px);
      const wrong = moved?.n === n && moved.why.length;
      const name = `laid${picked === n ? " picked" : ""}${pinnedAs(each) ? " pinned" : ""}${wrong ? " wrong" : ""}`;
      layer.append(s("g", { class: name, "data-laid": n }, s("path", { class: "fill", d, fill: COLOURS[names.indexOf(each.panel) % COLOURS.length] }), s("path", { class: "edge", d })));
      const [x, y] = middle(shown.shape_px);
      board.label(`${nameOf(each)}${pinnedAs(each) ? " ⚲" : ""}`, [x, y]);
    });
    board.layers.append(layer);
    board.show();
  }

  function choose(n, frame = false) {
    picked = n;
    moved = null;
    layout();
    panelBar();
    const each = answer.placements[n];
    if (frame && each?.shape_px) {
      const xs = each.shape_px.map((p) => p[0]);
      const ys = each.shape_px.map((p) => p[1]);
      board.frame([Math.min(...xs), Math.min(...ys), Math.max(...xs), Math.max(...ys)], 0.4);
      board.element.focus({ preventScroll: true });
    }
  }

  function panelBar() {
    const each = picked === null ? null : answer.placements[picked];
    const small = (text, work, attributes = {}) => h("button", { type: "button", class: "button small", onclick: work, ...attributes }, text);
    at.panel.replaceChildren(
      ...(each
        ? [
            h("strong", {}, t("answer.panel", { panel: each.panel, copy: each.copy, piece: each.piece })),
            small(`← ${t("answer.move_left")}`, () => shift(-4, 0)), small(`→ ${t("answer.move_right")}`, () => shift(4, 0)), small(`↑ ${t("answer.move_up")}`, () => shift(0, -4)), small(`↓ ${t("answer.move_down")}`, () => shift(0, 4)),
            small(`⟳ ${t("answer.turn")}`, () => shift(0, 0, 90)),
            pinnedAs(each) ? small(t("answer.unpin"), () => unpin(each)) : small(t("answer.pin"), () => pin(moved?.placement ?? each), { disabled: Boolean(moved?.why.length) }),
          ]
        : []),
      ...(pins.length ? [small(t("answer.unpin_all"), () => unpin(null))] : []),
    );
  }

  // --- moving a panel ---------------------------------------------------------------------------------

  let busy = false;
  let next = null;
  async function look(n, from_px, to_px, turned = 0) {
    next = { n, from_px, to_px, turned };
    if (busy) return;
    busy = true;
    while (next) {
      const { n: number, from_px: start, to_px: end, turned: turn } = next;
      next = null;
      try {
        const { placement } = await ask("drag", { placement: moved?.base ?? answer.placements[number], from_px: start, to_px: end, turn });
        moved = { n: number, placement: onGround(placement), why: placement.why_not, base: moved?.base };
        at.say.textContent = placement.why_not.length ? t("answer.may_not", { why: placement.why_not.join("; ") }) : t("answer.may");
        layout();
        panelBar();
      } catch (error) {
        at.say.textContent = error.message;
      }
      await new Promise((resolve) => setTimeout(resolve, EVERY));
    }
    busy = false;
  }

  async function shift(dx, dy, turned = 0) {
    if (picked === null) return;
    if (moved) moved.base = moved.placement;
    const at_px = middle((moved?.placement ?? answer.placements[picked]).shape_px);
    await look(picked, at_px, [at_px[0] + (dx * STEP) / board.k, at_px[1] + (dy * STEP) / board.k], turned);
  }

  let from = null;
  Object.assign(listeners, {
    tap: (px, event) => {
      const found = document.elementsFromPoint(event.clientX, event.clientY).find((each) => each.closest?.("[data-laid]"));
      choose(found ? Number(found.closest("[data-laid]").dataset.laid) : null);
    },
    begin: (px, event, target) => {
      const held = target?.closest?.("[data-laid]");
      if (!held) return false;
      choose(Number(held.dataset.laid));
      from = px;
      return true;
    },
    drag: (px) => look(picked, from, px),
    end: async (px) => {
      await look(picked, from, px);
      while (busy) await new Promise((resolve) => setTimeout(resolve, 30));
      if (moved && !moved.why.length) pin(moved.placement);
      else {
        if (moved) at.say.textContent = t("answer.put_back", { why: moved.why.join("; ") });
        moved = null;
        layout();
        panelBar();
      }
    },
    cancel: () => {
      moved = null;
      layout();
    },
    key: (event) => {
      const arrows = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };
      if (picked === null) return false;
      if (event.key in arrows) shift(...arrows[event.key].map((v) => v * (event.shiftKey ? 5 : 1)));
      else if (event.key.toLowerCase() === "t") shift(0, 0, 90);
      else if (event.key === "Enter") {
        if (!moved?.why.length) pin(moved?.placement ?? answer.placements[picked]);
      } else if (event.key === "Escape") choose(null);
      else return false;
      return true;
    },
  });

  function pin(placement) {
    const { why_not: _, ...plain } = placement;
    pins = [...pins.filter((each) => key(each) !== key(plain)), plain];
    moved = null;
    askPinned();
  }

  function askPinned() {
    sessionStorage.setItem(pinned, JSON.stringify(pins));
    answering.pins = pins;
    answering.ask();
  }

  function unpin(each) {
    pins = each ? pins.filter((pin_) => key(pin_) !== key(each)) : [];
    taken_up = false;
    askPinned();
  }

  // --- the garment ---------------------------------------------------------------------------------------

  const show = async (file) => {
    const wanted = garment.photos.find((each) => each.file === file) ?? garment.photos[0];
    await board.load(wanted.there === false ? "" : wanted.file, wanted.size_px);
    board.photo = wanted.file;
    board.home(boxOfAll(garment, wanted.file));
    if (answer) layout();
    else drawGarment(board, garment, {}, { marks: false });
  };
  if (garment.photos.length > 1) {
    at.pictures.replaceChildren(...garment.photos.map((each, n) => h("button", { type: "button", class: "button small", onclick: () => show(each.file) }, t("found.picture", { number: n + 1 }))));
  }
  await show(garment.photos[0].file);
  answering.pins = pins;
  answering.ask();
  const timer = setInterval(async () => {
    const state = await ask("state", { record, look: true }).catch(() => null);
    if (!state || state.revision === garment.revision) return;
    garment = await ask("garment", { record });
    answering.ask();
  }, 4000);
  return () => {
    stop.abort();
    clearInterval(timer);
    bar?.done();
    answering.close();
    board.close();
  };
}

/** The middle of a polygon by area. */
function middle(points) {
  let [a, x, y] = [0, 0, 0];
  points.forEach(([x0, y0], n) => {
    const [x1, y1] = points[(n + 1) % points.length];
    const cross = x0 * y1 - x1 * y0;
    a += cross;
    x += (x0 + x1) * cross;
    y += (y0 + y1) * cross;
  });
  return a ? [x / (3 * a), y / (3 * a)] : points[0];
}

// What was found: the pieces and marks on the photograph, one-tap questions, and the chalk to put it right.

import { picture } from "./api.js";
import { progress } from "./app.js";
import { Board } from "./board.js";
import { Chalk } from "./chalk.js";
import { h, line, refs, rings, s } from "./dom.js";
import { boxOf, boxOfAll, drawGarment, legend } from "./garment.js";
import { Store } from "./store.js";
import { Answering, verdictLine } from "./answering.js";
import { t } from "./words.js";

const KINDS = ["seam", "hem", "closure", "pocket", "worn", "other"];
const FIND_STEPS = 7;
const AT_ONCE = 3; // questions: the weightiest come first

export async function open(element, [record], desk) {
  const at = refs(element);
  const store = new Store(record);
  await store.open();
  const board = new Board(at.board, t("chalk.board"));
  let picked = {};
  let bar = null;

  const photo = () => store.garment.photos.find((each) => each.file === board.photo) ?? store.garment.photos[0];
  const show = async (file) => {
    const wanted = store.garment.photos.find((each) => each.file === file) ?? store.garment.photos[0];
    await board.load(wanted.there === false ? "" : wanted.file, wanted.size_px);
    board.photo = wanted.file;
    board.home(boxOfAll(store.garment, wanted.file));
    drawGarment(board, store.garment, picked);
  };
  const pick = (what, { frame = false } = {}) => {
    picked = what;
    const thing = thingOf(store.garment, what);
    if (thing && thing.photo !== board.photo) show(thing.photo);
    drawGarment(board, store.garment, picked);
    chalk.redraw();
    drawPicked();
    if (thing && frame) board.frame(boxOf(thing), 0.5);
  };

  await show(store.garment.photos[0]?.file);
  const chalk = new Chalk(at.chalk, board, store, { pick, tell: desk.live });
  at.legend.append(...legend(board));
  at.legend_block.open = innerWidth >= 900;
  const answering = new Answering(record, desk.last.project, (answer, old, error, searching) => verdictLine(at.verdict, answer, old, desk, record, searching), { improve: true });

  function drawPicked() {
    const piece = store.garment.pieces[picked.piece];
    const mark = store.garment.marks.find((each) => each.number === picked.mark);
    at.picked.replaceChildren(piece ? pieceCard(piece) : mark ? markCard(mark) : "");
  }

  const set = async (piece, fields) => {
    if (!(await store.edit({ do: "set", piece: piece.index, ...fields }))) drawPicked(); // a field shows what is kept
  };

  function pieceCard(piece) {
    const field = (key, value, change, attributes = {}) => {
      const input = h("input", { value, autocomplete: "off", ...attributes, onchange: () => change(input) });
      return h("label", {}, t(`piece.${key}`), input);
    };
    const one_way = h("input", { type: "checkbox", checked: piece.one_way, onchange: () => set(piece, { one_way: one_way.checked }) });
    return h(
      "section", { class: "picked-card", "aria-label": t("piece.title", piece) }, h("h2", {}, t("piece.title", piece)),
      h("p", { class: "quiet" }, t("found.piece_line", { size: piece.size, usable: piece.usable_said })),
      h(
        "fieldset", { class: "facts", disabled: store.garment.held },
        field("name", piece.name, (input) => set(piece, { name: input.value }), { maxlength: 100 }),
        field("fabric", piece.fabric, (input) => set(piece, { fabric: input.value }), { maxlength: 100 }),
        field("layers", piece.layers, (input) => set(piece, { layers: Number(input.value) }), { type: "number", min: 1, max: 20 }),
        field("grain", piece.grain, (input) => set(piece, { grain: Number(input.value) }), { type: "number", step: 0.5 }),
        h("label", { class: "check" }, one_way, t("piece.one_way")),
      ),
      h("p", { class: "hint" }, t("piece.layers_hint")),
      piece.usable_drawn ? h("p", {}, t("piece.usable_drawn")) : "",
      h("p", { class: "row" }, piece.usable_drawn ? h("button", { type: "button", class: "button small", disabled: store.garment.held, onclick: () => store.edit({ do: "usable", piece: piece.index, px: null }) }, t("piece.usable_back")) : "", h("button", { type: "button", class: "button small", disabled: store.garment.held, onclick: () => gone(store.edit({ do: "remove", piece: piece.index })) }, t("piece.remove"))),
    );
  }

  async function gone(done) {
    if (await done) pick({});
  }

  function markCard(mark) {
    const kind = h("select", { onchange: () => store.edit({ do: "kind", mark: mark.number, kind: kind.value }) }, KINDS.map((each) => h("option", { value: each, selected: each === mark.kind }, t(each === "other" ? "chalk.other" : `chalk.${each}`))));
    return h(
      "section", { class: "picked-card", "aria-label": t("piece.mark", mark) }, h("h2", {}, h("span", { class: "number-dot" }, mark.number), mark.what),
      h("p", { class: "quiet" }, t(`found.by_${mark.found_by}`)),
      h("fieldset", { class: "facts", disabled: store.garment.held }, h("label", {}, t("piece.kind"), kind)),
      h(
        "p", { class: "row" },
        h("button", { type: "button", class: "button small", disabled: store.garment.held, onclick: () => gone(store.edit({ do: "not", mark: mark.number })) }, t("found.not_there")),
        h("button", { type: "button", class: "button small", disabled: store.garment.held, onclick: () => chalk.again(mark) }, t("chalk.shape")),
      ),
    );
  }

  function question(each) {
    const said = replies.get(each.number);
    const reply = (value, key) =>
      h(
        "button", { type: "button", class: "button small", disabled: store.garment.held || said !== undefined, "aria-pressed": String(said === value),
          // the second press of a double one would land on the card that has moved up
          onclick: (event) => event.detail < 2 && told(each, value) },
        said === value ? `✓ ${t(key)}` : t(key),
      );
    const no = /crease/.test(each.text) ? "found.no" : "found.no_other";
    return h(
      "article", { class: `swing${said === undefined ? "" : " told"}`, "aria-label": t("found.question", each) },
      h("button", { type: "button", class: "crop", "aria-label": `${t("found.show")}: ${t("found.question", each)}`, onclick: () => look(each) }, crop(each, store.garment)),
      h("p", {}, h("span", { class: "number-dot" }, `${each.number}?`), each.text),
      h("div", { class: "choices" }, reply("yes", "found.yes"), reply("no", no), h("button", { type: "button", class: "button small", disabled: said !== undefined, onclick: (event) => event.detail < 2 && leave([each.number]) }, t("found.unsure"))),
    );
  }

  function look(shape) {
    if (shape.photo !== board.photo) show(shape.photo);
    board.frame(boxOf(shape), 0.5);
    board.element.scrollIntoView({ block: "nearest" });
  }

  at.kind.addEventListener("change", () => store.edit({ do: "garment", kind: at.kind.value }));
  at.rename.addEventListener("click", () => {
    const name = prompt(t("found.rename_as"), store.garment.name)?.trim();
    if (name && name !== store.garment.name) store.edit({ do: "garment", name });
  });

  // What was left: questions that the person can't tell now, or doesn't want to be asked. They stay open in the record.
  const left_key = `salvage left ${record}`;
  const later = new Set(JSON.parse(localStorage.getItem(left_key) ?? "[]"));
  const replies = new Map(); // question's number -> the reply that is being saved
  const order = []; // numbers of questions as they first came: no card changes places under the finger
  let all_shown = false;
  async function told(each, value) {
    replies.set(each.number, value);
    drawQuestions();
    await store.edit({ do: "answer", question: each.number, reply: value });
    replies.delete(each.number);
    drawQuestions();
  }

  function leave(numbers) {
    for (const each of numbers) later.add(each);
    if (!numbers.length) later.clear();
    localStorage.setItem(left_key, JSON.stringify([...later]));
    drawQuestions();
  }

  function drawQuestions() {
    const { questions } = store.garment;
    for (const { number } of questions) if (!order.includes(number)) order.push(number);
    const open = questions.filter((each) => !each.answer).sort((a, b) => order.indexOf(a.number) - order.indexOf(b.number));
    const asked = open.filter((each) => !later.has(each.number));
    const shown = all_shown ? asked : asked.slice(0, AT_ONCE);
    const link = (text, work) => h("button", { type: "button", class: "link", onclick: work }, text);
    const more = asked.length > shown.length;
    at.questions.replaceChildren(
      ...(questions.length
        ? [
            h("h2", {}, t(open.length ? "found.questions" : "found.all_answered")),
            open.length ? h("p", { class: "hint" }, `${t("found.progress", { done: questions.length - open.length, all: questions.length })} ${t("found.questions_hint")}`) : "", ...shown.map(question),
            asked.length ? h("p", { class: "row" }, more ? link(t("found.more", { count: asked.length }), () => ((all_shown = true), drawQuestions())) : "", link(t("found.leave"), () => leave(asked.map((each) => each.number)))) : "",
            open.length > asked.length ? h("p", { class: "row" }, h("span", {}, t("found.left_out", { count: open.length - asked.length })), link(t("found.ask_again"), () => leave([]))) : "",
          ]
        : []),
    );
  }

  function draw() {
    const garment = store.garment;
    const held = document.activeElement?.closest("[data-key]")?.dataset.key;
    at.name.textContent = garment.name;
    at.rename.disabled = garment.held;
    at.usable.textContent = t("found.usable", { area: garment.usable });
    at.kind.value = garment.kind;
    at.kind.disabled = garment.held;
    at.more_cloth.href = desk.address("cloth", record);
    at.side.href = desk.address("photo", "", record);
    at.next.href = desk.last.project ? desk.address("answer", record, desk.last.project) : desk.address("project", record);
    drawQuestions();
    at.pieces_count.textContent = `(${garment.pieces.length})`;
    at.marks_count.textContent = `(${garment.marks.length})`;
    at.pieces.replaceChildren(
      ...garment.pieces.map((piece) =>
        h(
          "li", {},
          h("span", { class: "grow" }, piece.name, h("small", {}, `${piece.fabric}, ${t("found.piece_line", { size: piece.size, usable: piece.usable_said })}`)),
          h("button", { type: "button", class: "button small", "data-key": `piece ${piece.index}`, onclick: () => pick({ piece: piece.index }, { frame: true }), "aria-label": `${t("project.change")}: ${piece.name}` }, t("project.change")),
        ),
      ),
    );
    at.marks.replaceChildren(
      ...garment.marks.map((mark) =>
        h(
          "li", {},
          h("span", { class: "grow" }, h("span", { class: "number-dot" }, mark.number), mark.what, h("small", {}, t(`found.by_${mark.found_by}`))),
          h("button", { type: "button", class: "button small", "data-key": `mark ${mark.number}`, onclick: () => pick({ mark: mark.number }, { frame: true }), "aria-label": `${t("found.show")}: ${mark.number}, ${mark.what}` }, t("found.show")),
          h("button", { type: "button", class: "button small", disabled: garment.held, onclick: () => store.edit({ do: "not", mark: mark.number }), "aria-label": t("found.not_there_label", mark) }, t("found.not_there")),
        ),
      ),
    );
    at.removed_block.hidden = garment.removed.length === 0;
    at.removed.replaceChildren(
      ...garment.removed.map((each) =>
        h("li", {}, h("span", { class: "grow" }, each.name), h("button", { type: "button", class: "button small", disabled: garment.held, onclick: () => store.edit({ do: "put_back", removed: each.number }), "aria-label": `${t("found.put_back")}: ${each.name}` }, t("found.put_back"))),
      ),
    );
    at.cautions.replaceChildren(...[...(garment.used ? [t("found.used", { said: garment.used })] : []), ...garment.cautions, ...garment.warnings].map((each) => h("p", { class: "caution" }, each)));
    at.pictures.replaceChildren(
      ...(garment.photos.length > 1
        ? garment.photos.map((each, n) => h("button", { type: "button", class: "button small", "aria-pressed": String(each.file === board.photo), onclick: () => show(each.file) }, t("found.picture", { number: n + 1 })))
        : []),
    );
    at.held.hidden = !garment.held;
    at.held.replaceChildren(t("chalk.held"), h("button", { type: "button", class: "button small", onclick: () => store.takeOver().catch(desk.failed) }, t("chalk.take_over")));
    const missing = photo()?.file && photo().there === false ? t("found.photo_missing", photo()) : "";
    if (missing) desk.notice(missing);
    if (picked.piece !== undefined && !garment.pieces[picked.piece]) picked = {};
    if (picked.mark !== undefined && !garment.marks.some((each) => each.number === picked.mark)) picked = {};
    drawGarment(board, garment, { ...picked, numbers: at.marks_block.open });
    chalk.renewed();
    drawPicked();
    element.dataset.revision = garment.revision;
    if (held) element.querySelector(`[data-key="${held}"]`)?.focus();
  }

  store.addEventListener("changed", () => {
    draw();
    answering.ask();
  });
  store.addEventListener("saving", () => {
    if (chalk.saved) chalk.saved.textContent = t("chalk.saving");
    answering.old();
  });
  store.addEventListener("news", ({ text, kind }) => {
    if (chalk.saved) chalk.saved.textContent = kind ? t("chalk.not_saved") : `✓ ${text}`;
    if (kind) desk.notice(text, { bad: true });
    else desk.notice("");
    desk.live(text);
  });
  store.addEventListener("finding", ({ on, told }) => {
    if (!on) bar?.done();
    else if (!told || !bar) bar = progress(at.progress, t("chalk.finding"));
    else bar.move(Math.min(1, told.steps_done / FIND_STEPS));
    if (!on) bar = null;
  });
  let gone_before = false;
  store.addEventListener("reached", ({ on, error }) => {
    if (!on) desk.notice(error.message, { bad: true });
    else if (gone_before) desk.notice("");
    gone_before = !on;
  });
  at.marks_block.addEventListener("toggle", () => drawGarment(board, store.garment, { ...picked, numbers: at.marks_block.open }));
  draw();
  answering.ask();
  element.addEventListener("keydown", (event) => {
    if ((event.ctrlKey || event.metaKey) && event.key.toLowerCase() === "z" && !event.target.matches("input, select, textarea") && event.target !== board.element) {
      event.preventDefault();
      if (event.shiftKey) store.redo();
      else store.undo();
    }
  });
  return () => {
    store.close();
    board.close();
    answering.close();
  };
}

function thingOf(garment, { piece, mark }) {
  return piece !== undefined ? garment.pieces[piece] : garment.marks.find((each) => each.number === mark);
}

/** A part of the photograph round what is asked about, with it drawn over. */
function crop(question, garment) {
  const [x0, y0, x1, y1] = boxOf(question);
  const photo = garment.photos.find((each) => each.file === question.photo);
  const [w, hh] = photo?.size_px ?? [1000, 1000];
  const side = Math.min(Math.max(x1 - x0, y1 - y0, 0.07 * Math.max(w, hh)) * 1.5, Math.min(w, hh));
  const left = Math.round(Math.min(Math.max((x0 + x1 - side) / 2, 0), w - side));
  const top = Math.round(Math.min(Math.max((y0 + y1 - side) / 2, 0), hh - side));
  const image = s("image", { x: left, y: top, width: side, height: side, preserveAspectRatio: "none" });
  const box = [left, top, Math.round(left + side), Math.round(top + side)].join(",");
  if (photo?.there) picture(question.photo, { box, most: 400 }).then((address) => image.setAttribute("href", address), () => {});
  const ds = [...(question.rings.length ? [rings(question.rings)] : []), ...question.lines.map((each) => line(each))];
  return s(
    "svg", { viewBox: `${left} ${top} ${side} ${side}`, preserveAspectRatio: "xMidYMid slice", "aria-hidden": true }, image,
    ds.map((d) => s("g", { class: "asked" }, s("path", { class: "casing", d, "vector-effect": "non-scaling-stroke" }), s("path", { class: "ink", d, "vector-effect": "non-scaling-stroke" }))),
  );
}



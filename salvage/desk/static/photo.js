// The photograph: from a camera or a file; the check answers at once; then the pieces are found. With a record's name
// behind it in the address it is another side of that garment.

import { ask, follow, picture, send } from "./api.js";
import { progress } from "./app.js";
import { Board } from "./board.js";
import { h, line, refs, rings, s } from "./dom.js";
import { t } from "./words.js";

const CHECK_STEPS = 5;
const MEASURE_STEPS = 7;
const SQUARES = ["no-square", "square-unsure"]; // what a tap on the square settles

export async function open(element, [photo, record], desk) {
  const at = refs(element);
  const stop = new AbortController();
  let board = null;
  at.side.value = desk.settings.side ?? "";
  at.board.hidden = !photo;
  at.known_block.hidden = !photo;
  at.fabric_block.hidden = !record;
  if (record) {
    const kept = `salvage fabric ${record}`; // what was said before the photograph was there
    at.fabric.value = sessionStorage.getItem(kept) ?? at.fabric.value;
    at.fabric.addEventListener("input", () => sessionStorage.setItem(kept, at.fabric.value));
    at.title.textContent = t("photo.another_side");
    at.how.textContent = t("photo.another_how");
    ask("garment", { record }).then((told) => (at.title.textContent = t("photo.another_of", { name: told.name })), desk.failed);
  }
  for (const input of [at.camera, at.file]) input.addEventListener("change", () => input.files[0] && take(input.files[0]));
  for (const name of ["dragover", "dragleave", "drop"]) {
    at.drop.addEventListener(name, (event) => {
      event.preventDefault();
      at.drop.classList.toggle("over", name === "dragover");
      if (name === "drop" && event.dataTransfer.files[0]) take(event.dataTransfer.files[0]);
    });
  }

  async function take(file) {
    desk.notice("");
    const bar = progress(at.progress, t("photo.reading"));
    try {
      await remember(); // the side may have been typed just before
      const told = await send(file, (share) => bar.move(share));
      desk.go("photo", told.photo, ...(record ? [record] : []));
    } catch (error) {
      desk.failed(error);
    } finally {
      bar.done();
    }
  }

  // Enter in the field tells both that it changed and that the form is sent: one check is enough.
  let asked = null;
  const again = () => {
    const written = `${at.side.value} ${photo}`;
    if (asked === written) return;
    asked = written;
    square_at = [];
    (photo ? check() : remember()).catch(desk.failed).finally(() => (asked = null));
  };
  at.side_form.addEventListener("submit", (event) => {
    event.preventDefault();
    again();
  });
  at.side.addEventListener("change", again);

  const remember = async () => {
    const written = at.side.value;
    desk.settings = await ask("settings", { side: written });
    if (at.side.value === written) at.side.value = desk.settings.side; // with its unit, where none was written
  };

  at.squares.addEventListener("click", async () => {
    try {
      const [{ name, ticket }] = (await ask("squares")).files;
      h("a", { href: `/take/${ticket}/${encodeURIComponent(name)}`, target: "_blank", rel: "noopener" }).click();
    } catch (error) {
      desk.failed(error);
    }
  });

  let square_at = []; // where somebody pointed at a square that wasn't found, or at the right one
  let pointing = false; // whether a tap on the picture is one on a square
  let ends = null; // of a known length, while it is being marked; a list of one or two places once it is
  let marking = false;
  function point(px) {
    if (marking) {
      ends = ends?.length === 1 ? [ends[0], px] : [px];
      marking = ends.length < 2;
      drawEnds();
      return;
    }
    if (!pointing) return;
    square_at = [px];
    check().catch(desk.failed);
  }

  function drawEnds() {
    board.draw(marking);
    known_layer.replaceChildren(...(ends ? [...board.double(line(ends), "draft"), ...ends.map(([x, y]) => s("circle", { class: "knob", cx: x, cy: y, r: 5 / board.k, "data-r": 5 }))] : []));
    board.layers.append(known_layer);
    at.known_say.textContent = t(marking ? (ends ? "photo.known_second" : "photo.known_first") : "photo.known_length");
    at.known_form.hidden = marking;
    if (!marking) at.known.focus({ preventScroll: true });
  }
  const known_layer = s("g");
  at.known_mark.addEventListener("click", () => {
    ends = null;
    marking = true;
    drawEnds();
    board.element.scrollIntoView({ block: "nearest" });
    board.element.focus({ preventScroll: true });
  });
  at.known_form.addEventListener("submit", (event) => {
    event.preventDefault();
    check().catch(desk.failed);
  });
  const known = () => (ends?.length === 2 && at.known.value.trim() ? [[...ends.flat(), at.known.value]] : []);
  const told_now = () => ({ photo, side: at.side.value, square_at, known: known(), ...(record ? { record, fabric: at.fabric.value } : {}) });

  let checked = 0;
  async function check() {
    const mine = ++checked;
    desk.notice("");
    at.verdict.replaceChildren();
    at.measure.hidden = true;
    const bar = progress(at.progress, t("photo.checking"));
    try {
      await remember();
      const { job } = await ask("check", told_now());
      const told = await follow(job, (each) => bar.move(Math.min(1, each.steps_done / (CHECK_STEPS + 1))), stop.signal);
      if (mine === checked) shown(told);
    } finally {
      bar.done();
    }
  }

  function shown(told) {
    pointing = square_at.length > 0 || told.problems.some((each) => SQUARES.includes(each.code));
    const errors = told.problems.filter((each) => each.level === "error");
    const warnings = told.problems.filter((each) => each.level !== "error");
    const [key, kind, sign] = errors.length
      ? ["photo.bad", "bad", "✗"]
      : !told.scale
        ? ["photo.no_scale", "mindful", "?"]
        : warnings.length
          ? ["photo.care", "mindful", "!"]
          : ["photo.good", "good", "✓"];
    if (!told.scale) at.known_block.open = true;
    const todo = (text, level) => h("li", { class: `todo ${level}` }, text);
    at.verdict.replaceChildren(
      h("p", { class: `stamp ${kind}` }, h("span", { class: "sign", "aria-hidden": true }, sign), t(key)),
      h("ul", {}, errors.map((each) => todo(each.message, "error")), warnings.map((each) => todo(each.message, "warning")), told.advice.map((each) => todo(each, "advice"))),
      told.scale ? h("p", { class: "quiet" }, t(told.squares.length || !known().length ? "photo.scale" : "photo.scale_known", { count: told.squares.length, percent: told.scale.plus_minus_percent.toFixed(1) })) : "",
    );
    at.measure.hidden = !told.measurable;
    board.labels.replaceChildren();
    const outline = rings(told.outline_px.coordinates.flat());
    board.layers.replaceChildren(...board.double(outline, "seen"), ...told.squares.flatMap((each) => board.double(rings([each.corners_px]), "square")), known_layer);
    board.show();
  }

  at.measure.addEventListener("click", async () => {
    at.measure.hidden = true;
    const bar = progress(at.progress, t("photo.measuring"));
    try {
      const { job } = await ask("measure", told_now());
      const told = await follow(job, (each) => bar.move(Math.min(1, each.steps_done / MEASURE_STEPS)), stop.signal);
      desk.go("found", told.record);
    } catch (error) {
      at.measure.hidden = false;
      desk.failed(error);
    } finally {
      bar.done();
    }
  });

  if (photo) {
    at.drop.hidden = true;
    at.how.hidden = true;
    element.classList.add("looked");
    at.side_again.hidden = false;
    at.file_button.firstChild.textContent = t("photo.another");
    board = new Board(at.board, t("photo.alt", { name: photo }), {
      tap: point,
      key: (event) => {
        if (!marking || (event.key !== "Enter" && event.key !== " ")) return false;
        point(board.crossAt());
        return true;
      },
    });
    const image = new Image();
    image.src = await picture(photo, { most: 1600 });
    await image.decode();
    const { width, height } = await sizeOf(photo, image);
    await board.load(photo, [width, height]);
    check().catch(desk.failed);
  }
  return () => {
    stop.abort();
    board?.close();
  };
}

/** The photograph's own size: the check's places are in its pixels. */
async function sizeOf(photo, image) {
  const told = await ask("size", { photo }).catch(() => null);
  return told ?? { width: image.naturalWidth, height: image.naturalHeight };
}

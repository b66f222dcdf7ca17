// The photograph: from a camera or a file; the check answers at once; then the pieces are found.

import { ask, follow, picture, send } from "./api.js";
import { progress } from "./app.js";
import { Board } from "./board.js";
import { h, refs, rings } from "./dom.js";
import { t } from "./words.js";

const CHECK_STEPS = 5;
const MEASURE_STEPS = 7;
const SQUARES = ["no-square", "square-unsure"]; // what a tap on the square settles

export async function open(element, [photo], desk) {
  const at = refs(element);
  const stop = new AbortController();
  let board = null;
  at.side.value = desk.settings.side ?? "";
  at.board.hidden = !photo;
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
      desk.go("photo", told.photo);
    } catch (error) {
      desk.failed(error);
    } finally {
      bar.done();
    }
  }

  at.side_form.addEventListener("submit", (event) => {
    event.preventDefault();
    square_at = [];
    if (photo) check().catch(desk.failed);
    else remember().catch(desk.failed);
  });
  at.side.addEventListener("change", () => (photo ? check() : remember()).catch(desk.failed));

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
  function point(px) {
    if (!pointing) return;
    square_at = [px];
    check().catch(desk.failed);
  }

  let checked = 0;
  async function check() {
    const mine = ++checked;
    desk.notice("");
    at.verdict.replaceChildren();
    at.measure.hidden = true;
    const bar = progress(at.progress, t("photo.checking"));
    try {
      await remember();
      const { job } = await ask("check", { photo, side: at.side.value, square_at });
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
    const todo = (text, level) => h("li", { class: `todo ${level}` }, text);
    at.verdict.replaceChildren(
      h("p", { class: `stamp ${kind}` }, h("span", { class: "sign", "aria-hidden": true }, sign), t(key)),
      h("ul", {}, errors.map((each) => todo(each.message, "error")), warnings.map((each) => todo(each.message, "warning")), told.advice.map((each) => todo(each, "advice"))),
      told.scale ? h("p", { class: "quiet" }, `${t("photo.squares")}: ${told.squares.length}. ${t("photo.scale")} ± ${told.scale.plus_minus_percent.toFixed(1)} %.`) : "",
    );
    at.measure.hidden = !told.measurable;
    board.labels.replaceChildren();
    const outline = rings(told.outline_px.coordinates.flat());
    board.layers.replaceChildren(...board.double(outline, "seen"), ...told.squares.flatMap((each) => board.double(rings([each.corners_px]), "square")));
    board.show();
  }

  at.measure.addEventListener("click", async () => {
    at.measure.hidden = true;
    const bar = progress(at.progress, t("photo.measuring"));
    try {
      const { job } = await ask("measure", { photo, side: at.side.value, square_at });
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
    at.side_again.hidden = false;
    at.file_button.firstChild.textContent = t("photo.another");
    board = new Board(at.board, t("photo.alt", { name: photo }), { tap: point });
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



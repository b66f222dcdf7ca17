// A garment drawn on a board: pieces, what can't be used of them, marks with their numbers, open questions.

import { h, s, rings, line } from "./dom.js";
import { t } from "./words.js";

/** Draw what of the garment lies in the board's photograph. picked: {piece} or {mark} that is brought out. */
export function drawGarment(board, garment, picked = {}, { marks = true, names = true } = {}) {
  const here = (each) => each.photo === board.photo;
  const layers = [];
  board.labels.replaceChildren();
  for (const piece of garment.pieces.filter(here)) {
    const d = rings(piece.rings);
    layers.push(
      s(
        "g", { class: `piece${picked.piece === piece.index ? " picked" : ""}`, "data-piece": piece.index },
        s("path", { class: "outline", d }),
        s("path", { class: "unusable", d: d + rings(piece.usable), "fill-rule": "evenodd" }),
        s("path", { class: "outline top", d }),
      ),
    );
  }
  if (marks) for (const mark of garment.marks.filter(here)) layers.push(drawMark(board, mark, picked.mark === mark.number));
  const open = garment.questions.filter((each) => here(each) && !each.answer);
  if (marks) {
    for (const each of open) {
      layers.push(s("g", {}, s("path", { class: "asked" }), ...both(each).map((d) => s("g", { class: "asked" }, s("path", { class: "casing", d }), s("path", { class: "ink", d })))));
    }
  }
  for (const piece of garment.pieces.filter(here)) {
    const [a, b] = piece.grain_px;
    layers.push(...board.double(arrow(a, b, !piece.one_way), "arrow"));
    if (names) board.label(piece.name, piece.label_px, {}, piece.room_px, 8 * piece.name.length);
  }
  if (marks) {
    for (const mark of garment.marks.filter(here)) if (picked.numbers || picked.mark === mark.number) board.number(mark.number, mark.at_px, `k-${mark.kind}`);
    for (const each of open) board.number(`${each.number}?`, each.at_px, "asked");
  }
  board.layers.replaceChildren(...layers);
  board.show();
}

function drawMark(board, mark, picked) {
  const name = `mark k-${mark.kind} ${mark.found_by}${picked ? " picked" : ""}`;
  const lines = mark.lines.map((each) => line(each));
  const parts = [];
  if (mark.rings.length) {
    const d = rings(mark.rings);
    parts.push(s("path", { class: "casing", d }), s("path", { class: "area ink", d, fill: board.hatch(mark.kind) }));
  }
  for (const d of lines) parts.push(s("path", { class: "casing", d }), s("path", { class: "ink", d }), s("path", { class: "hit", d }));
  return s("g", { class: name, "data-mark": mark.number }, ...parts);
}

const both = (shape) => [...(shape.rings.length ? [rings(shape.rings)] : []), ...shape.lines.map((each) => line(each))];

/** An arrow along the grain, with a head at its end, and at its beginning too where the cloth has no up and down. */
function arrow(a, b, two) {
  const [dx, dy] = [b[0] - a[0], b[1] - a[1]];
  const far = Math.hypot(dx, dy) || 1;
  const head = Math.min(far * 0.16, 40);
  const [ux, uy] = [dx / far, dy / far];
  const tip = ([x, y], sign) =>
    `M${x - sign * head * (ux + 0.5 * uy)} ${y - sign * head * (uy - 0.5 * ux)}L${x} ${y}L${x - sign * head * (ux - 0.5 * uy)} ${y - sign * head * (uy + 0.5 * ux)}`;
  return `M${a[0]} ${a[1]}L${b[0]} ${b[1]}${tip(b, 1)}${two ? tip(a, -1) : ""}`;
}

/** What the marks on a board mean: a line of the list for each, drawn as on the board. */
export function legend(board) {
  const sample = (...parts) => s("svg", { class: "sample", width: 46, height: 22, viewBox: "0 0 46 22", "aria-hidden": true }, s("rect", { width: 46, height: 22, fill: "#3f6070" }), ...parts);
  const d = "M4 11H42";
  const box = "M6 4H40V18H6Z";
  const drawn = (name, area, kind = null) =>
    s("g", { class: `mark ${name}` }, s("path", { class: "casing", d: area ? box : d }), s("path", { class: area ? "area ink" : "ink", d: area ? box : d, fill: area ? board.hatch(kind) : null }));
  const rows = [
    ["seam", drawn("k-seam photo", false)], ["hem", drawn("k-hem photo", false)], ["closure", drawn("k-closure photo", true, "closure")],
    ["pocket", drawn("k-pocket photo", true, "pocket")], ["worn", drawn("k-worn photo", true, "worn")], ["other", drawn("k-other photo", true, "other")],
    ["asked", s("g", { class: "asked" }, s("path", { class: "casing", d }), s("path", { class: "ink", d }))],
    ["trade", drawn("k-seam trade", false)], ["person", drawn("k-seam person", false)],
    ["grain", s("g", {}, ...board.double(arrow([6, 11], [40, 11], true), "arrow"))],
  ];
  return rows.map(([key, part]) => h("li", {}, sample(part), t(`chalk.legend_${key}`)));
}

/** The box of all pieces on a photograph; null where none lies there. */
export function boxOfAll(garment, photo) {
  const rings = garment.pieces.filter((each) => each.photo === photo).flatMap((each) => each.rings);
  return rings.length ? boxOf({ rings }) : null;
}

/** The box round a shape: left, top, right, bottom. */
export function boxOf(shape) {
  const points = [...shape.rings, ...(shape.lines ?? [])].flat();
  const xs = points.map((p) => p[0]);
  const ys = points.map((p) => p[1]);
  return [Math.min(...xs), Math.min(...ys), Math.max(...xs), Math.max(...ys)];
}

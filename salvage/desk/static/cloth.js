// Cloth without a photograph, such as a piece from the drawer: its sizes typed in. With a record's name behind it in the
// address it is added to that garment.

import { ask, tab } from "./api.js";
import { h, refs, ring, s } from "./dom.js";
import { t } from "./words.js";

const LARGEST = 96; // px that a piece is drawn large

export async function open(element, [record], desk) {
  const at = refs(element);
  const rows = [];
  if (record) {
    const { name } = await ask("garment", { record });
    at.title.textContent = t("cloth.more", { name });
    at.name_label.hidden = at.kind_label.hidden = true;
  }

  function add() {
    const row = { name: "", fabric: rows.at(-1)?.fabric ?? "shell", width: "", length: "", corners: "", layers: "1", one_way: false };
    rows.push(row);
    const draws = h("div", { class: "draws" });
    const field = (key, more = {}, wide = false) => {
      const input = h("input", { value: row[key], autocomplete: "off", ...more, oninput: () => ((row[key] = input.value), draw()) });
      return h("label", { class: wide ? "wide" : "" }, t(`cloth.${key}`), input);
    };
    const one_way = h("input", { type: "checkbox", onchange: () => (row.one_way = one_way.checked) });
    const number = rows.length;
    const made = h(
      "fieldset", { class: "partrow", "aria-label": t("cloth.piece", { number }) }, draws,
      h(
        "div", { class: "cells" }, field("name", { maxlength: 60 }, true), field("width", { size: 6 }), field("length", { size: 6 }), field("fabric", { maxlength: 60, list: "cloths" }),
        field("layers", { inputmode: "numeric", size: 3 }), h("label", {}, t("piece.one_way"), one_way), field("corners", { placeholder: t("cloth.corners_example") }, true),
      ),
      h("div", { class: "foot" }, h("span", {}, t("cloth.corners_hint")), rows.length > 1 ? h("button", { type: "button", class: "link", onclick: () => drop(), "aria-label": `${t("project.remove")}: ${t("cloth.piece", { number })}` }, t("project.remove")) : ""),
    );
    const drop = () => {
      rows.splice(rows.indexOf(row), 1);
      made.remove();
    };
    const draw = () => draws.replaceChildren(...drawn(row));
    at.rows.append(made);
    return made;
  }

  at.add.addEventListener("click", () => add().querySelector("input").focus());
  at.form.addEventListener("submit", async (event) => {
    event.preventDefault();
    at.save.disabled = true;
    const { name, kind, measured } = at.form.elements;
    try {
      const told = await ask("cloth", { record, tab, name: name.value, kind: kind.value, measured: measured.value, pieces: rows });
      desk.go("found", told.record);
    } catch (error) {
      at.said.replaceChildren(h("span", { class: "wrong" }, error.message));
    } finally {
      at.save.disabled = false;
    }
  });
  add();
}

/** A sketch of what is typed; the server reads it with more care. */
function drawn(row) {
  const number = (text) => Number.parseFloat(text.replace(",", "."));
  let points = row.corners.trim().split(/\s*;\s*|\s+/).map((each) => each.split(",").map(Number.parseFloat));
  if (!row.corners.trim()) {
    const [wide, long] = [number(row.width), number(row.length)];
    points = [[0, 0], [wide, 0], [wide, long], [0, long]];
  }
  if (points.length < 3 || points.some((each) => each.length !== 2 || !each.every(Number.isFinite))) return [];
  const xs = points.map((p) => p[0]);
  const ys = points.map((p) => p[1]);
  const [left, top, wide, long] = [Math.min(...xs), Math.max(...ys), Math.max(...xs) - Math.min(...xs), Math.max(...ys) - Math.min(...ys)];
  if (!(wide > 0 && long > 0)) return [];
  const scale = LARGEST / Math.max(wide, long);
  const [w, hh] = [wide * scale, long * scale];
  return [
    s(
      "svg", { width: w + 4, height: hh + 4, viewBox: `-2 -2 ${w + 4} ${hh + 4}`, "aria-hidden": true },
      s("path", { class: "shape", d: ring(points.map(([x, y]) => [(x - left) * scale, (top - y) * scale])) }), s("path", { class: "shape way", d: `M${w / 2} ${hh * 0.3}V${hh * 0.7}m-3 -4 3 4 3 -4M${w / 2 - 3} ${hh * 0.3 + 4}l3 -4 3 4` }),
    ),
  ];
}

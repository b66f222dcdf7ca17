// The project: one of the folder, a sample, or typed in as a table that draws each panel while it is typed.

import { ask } from "./api.js";
import { h, refs, ring, s } from "./dom.js";
import { t } from "./words.js";

const MOST_SIZES = 4; // lines of sizes on a project's card
const FLAGS = ["double", "straight"]; // measures of a part that are yes or no
const CHOICES = { bottom: ["seam", "fold"], join: ["bias", "straight", "none"] };
const BY_HAND = ["fabrics"]; // a list, which only a file can say
const PAUSE = 250; // ms after the last key before the panels are drawn again
const PANEL = { name: "", fabric: "shell", cut: 1, width: "", length: "", grain: "along", mirrored: false, joins: 0 };
const DRAFT = "salvage draft"; // where a table that is being typed is kept, until it is saved or cancelled
const STRIP = { name: "", fabric: "shell", cut: 1, width: "", length: "", folds: 4, join: "bias" };

export async function open(element, [record], desk) {
  const at = refs(element);
  let table = null;
  let file = null;
  let turn = 0;
  let timer = 0;
  let kinds = [];
  let saving = false;
  let draft = DRAFT; // with the folder's name behind it, once that is known

  const card = (each) => {
    const shapes = h("div", { class: "shapes" });
    const sizes = h("ul", { class: "sizes quiet" });
    ask("project_shapes", { project: each.file }).then((told) => {
      shapes.replaceChildren(...drawings(told.parts));
      const more = told.parts.length - MOST_SIZES;
      sizes.replaceChildren(...told.parts.slice(0, more > 1 ? MOST_SIZES : undefined).map((part) => h("li", {}, t("project.drawn", part), fabricOf(part))), more > 1 ? h("li", {}, t("project.more", { count: more })) : "");
    }, () => {});
    return h(
      "li", {}, h("h3", {}, each.name), shapes,
      each.error ? h("p", { class: "hint" }, each.error) : sizes,
      h(
        "p", { class: "row" },
        record && !each.error ? h("a", { class: "button main small", href: desk.address("answer", record, each.file), "aria-label": `${t("project.choose")} ${each.name}` }, t("project.choose")) : "",
        each.error ? "" : h("button", { type: "button", class: "button small", onclick: () => change(each).catch(desk.failed), "aria-label": `${t("project.change")} ${each.name}` }, t("project.change")),
      ),
    );
  };
  at.new.addEventListener("click", () => {
    file = null;
    edit({ name: t("project.new_name"), units: desk.settings.units, sizes: "finished", seam_allowance: desk.settings.units === "in" ? "3/8" : desk.settings.units === "cm" ? "1" : "10", cutting_gap: "0", panels: [{ ...PANEL, name: t("project.first_panel") }], strips: [] });
  });
  at.leave.addEventListener("click", () => leave());
  for (const input of at.form.querySelectorAll("[data-field]")) {
    input.addEventListener("input", () => {
      table[input.dataset.field] = input.value;
      typed();
    });
  }
  at.add_panel.addEventListener("click", () => add("panels", PANEL));
  at.add_strip.addEventListener("click", () => add("strips", STRIP));
  at.add_part.addEventListener("change", () => {
    const kind = kinds.find((each) => each.kind === at.add_part.value);
    at.add_part.value = "";
    if (kind) add("parts", { kind: kind.kind, name: kind.kind, fabric: "shell", measures: {} });
  });
  at.form.addEventListener("submit", async (event) => {
    event.preventDefault();
    if (saving) return;
    if (!at.rows.children.length) {
      at.said.replaceChildren(h("p", { class: "wrong" }, t("project.nothing")));
      return;
    }
    saving = true;
    at.save.disabled = true;
    try {
      const told = await ask("save_project", { table, file });
      localStorage.removeItem(draft);
      desk.remember({ project: told.file });
      if (record) desk.go("answer", record, told.file);
      else leave();
    } catch (error) {
      at.said.replaceChildren(h("p", { class: "wrong" }, error.message));
    } finally {
      saving = false;
      at.save.disabled = false;
    }
  });

  async function change(each) {
    const told = await ask("project", { project: each.file });
    if (!told.table) {
      desk.notice(t("project.only_file", { file: told.file }));
      return;
    }
    file = told.file;
    edit(told.table);
  }

  function edit(given) {
    table = { panels: [], strips: [], parts: [], ...given };
    at.choose.hidden = true;
    at.form.hidden = false;
    for (const input of at.form.querySelectorAll("[data-field]")) input.value = table[input.dataset.field] ?? "";
    rowsAgain();
    draw();
    at.form.querySelector("input").focus();
  }

  function leave() {
    localStorage.removeItem(draft);
    at.form.hidden = true;
    at.choose.hidden = false;
  }

  function add(kind, blank) {
    table[kind].push({ ...structuredClone(blank), fabric: table[kind].at(-1)?.fabric ?? "shell" });
    rowsAgain();
    at.rows.querySelectorAll(`[data-kind="${kind}"]`)[table[kind].length - 1].querySelector("input").focus();
    typed();
  }

  function rowsAgain() {
    at.rows.replaceChildren(...["panels", "strips", "parts"].flatMap((kind) => table[kind].map((row, n) => rowOf(kind, row, n))));
  }

  function rowOf(kind, row, n) {
    const cell = (key, attributes = {}, wide = false) => {
      const input = h("input", { value: row[key] ?? "", autocomplete: "off", ...attributes, oninput: () => changed(key, input.value) });
      return h("label", { class: wide ? "wide" : "" }, t(`project.col_${key}`), input);
    };
    const choice = (key, values, word = (value) => t(`project.${value}`)) => {
      const input = h("select", { onchange: () => changed(key, input.value) }, values.map((value) => h("option", { value, selected: value === row[key] }, word(value))));
      return h("label", { class: "wide" }, t(key === "join" ? "project.col_joins" : `project.col_${key}`), input);
    };
    const changed = (key, value) => {
      row[key] = value;
      typed();
    };
    const mirrored = h("input", { type: "checkbox", checked: row.mirrored, onchange: () => changed("mirrored", mirrored.checked) });
    const measured = (key, needed) => {
      const set = (value) => {
        if (value === "" || value === false) delete row.measures[key];
        else row.measures[key] = value;
        typed();
      };
      const now = row.measures[key];
      if (FLAGS.includes(key)) {
        const tick = h("input", { type: "checkbox", checked: now === true, onchange: () => set(tick.checked) });
        return h("label", {}, t(`measure.${key}`), tick);
      }
      const listed = key === "of" ? table.parts.slice(0, n).map((each) => each.name) : CHOICES[key];
      if (listed) {
        const word = (value) => (key === "of" ? value : t(key === "bottom" ? `measure.bottom_${value}` : `project.join_${value}`));
        const list = h("select", { onchange: () => set(list.value) }, h("option", { value: "" }, t(needed ? "project.choose_one" : "measure.usual")), listed.map((value) => h("option", { value, selected: value === now }, word(value))));
        return h("label", { class: "wide" }, t(`measure.${key}`), list);
      }
      const input = h("input", { value: now ?? "", autocomplete: "off", size: 6, placeholder: needed ? null : t("measure.usual"), oninput: () => set(input.value) });
      return h("label", {}, t(`measure.${key}`), input);
    };
    const part = kind === "parts" && kinds.find((each) => each.kind === row.kind);
    const cells = part
      ? [cell("name", { maxlength: 60 }, true), cell("fabric", { maxlength: 60, list: "fabrics" }), ...part.needs.map((key) => measured(key, true)), ...part.may.filter((key) => !BY_HAND.includes(key)).map((key) => measured(key, false))]
      : kind === "panels"
        ? [
            cell("name", { maxlength: 60 }, true), cell("cut", { inputmode: "numeric", size: 4 }), cell("width", { size: 6 }), cell("length", { size: 6 }),
            cell("fabric", { maxlength: 60, list: "fabrics" }), choice("grain", ["along", "across", "either", "bias", "any"]), cell("joins", { inputmode: "numeric" }), h("label", {}, t("project.col_mirrored"), mirrored),
          ]
        : [
            cell("name", { maxlength: 60 }, true), cell("cut", { inputmode: "numeric", size: 4 }), cell("width", { size: 6 }), cell("length", { size: 6 }),
            cell("folds", { inputmode: "numeric" }), cell("fabric", { maxlength: 60, list: "fabrics" }), choice("join", ["bias", "straight", "none"], (value) => t(`project.join_${value}`)),
          ];
    const title = part ? part.said : `${t("project.part")} ${n + 1}`;
    return h(
      "fieldset", { class: "partrow", "data-kind": kind, "aria-label": part ? title : `${t(`project.${kind}`)}, ${title}` },
      h("div", { class: "draws" }), h("div", { class: "cells" }, cells),
      h("div", { class: "foot" }, h("span", { class: "size" }), h("button", { type: "button", class: "link", onclick: () => drop(kind, n), "aria-label": `${t("project.remove")}: ${row.name || title}` }, t("project.remove"))),
    );
  }

  function drop(kind, n) {
    table[kind].splice(n, 1);
    rowsAgain();
    typed();
  }

  /** Something was typed: it is drawn, and kept over a step back, a reload or another choice of units. */
  function typed() {
    localStorage.setItem(draft, JSON.stringify({ table, file }));
    draw();
  }

  function draw() {
    clearTimeout(timer);
    timer = setTimeout(async () => {
      const mine = ++turn;
      try {
        const told = await ask("draw", { table });
        if (mine !== turn) return;
        drawn(told);
      } catch (error) {
        if (mine === turn) at.said.replaceChildren(h("p", { class: "wrong" }, error.message));
      }
    }, PAUSE);
  }

  function drawn(told) {
    const all = ["panels", "strips", "parts"].flatMap((kind) => told.rows[kind].map((each) => each));
    const largest = Math.max(...all.flatMap((each) => each.parts).flatMap((part) => part.outline.flat()), 1);
    all.forEach((each, n) => {
      const row = at.rows.children[n];
      if (!row) return;
      row.querySelector(".draws").replaceChildren(...each.parts.slice(0, 6).map((part) => drawing(part, (each.parts.length > 1 ? 60 : 92) / largest)));
      const size = row.querySelector(".size");
      size.textContent = each.error ?? each.parts.map((part) => t("project.drawn", part)).join("; ");
      size.classList.toggle("wrong", Boolean(each.error));
    });
    at.said.replaceChildren(...(all.length ? told.notes : [t("project.nothing")]).map((each) => h("p", {}, each)));
  }
  ({ kinds } = await ask("part_kinds"));
  at.add_part.append(...kinds.map((each) => h("option", { value: each.kind }, each.said)));
  const folder = await desk.folder();
  at.projects.replaceChildren(...[...folder.projects, ...folder.samples].map(card));
  const fabrics = folder.garments.filter((each) => !record || each.file === record).flatMap((each) => each.fabrics ?? []);
  at.fabrics.replaceChildren(...[...new Set(fabrics)].map((value) => h("option", { value })));
  const early = localStorage.getItem(DRAFT); // typed before the folder's name was known
  draft = `${DRAFT} ${folder.folder}`;
  if (early) {
    localStorage.setItem(draft, early);
    localStorage.removeItem(DRAFT);
  }
  const kept = localStorage.getItem(draft);
  if (kept && at.form.hidden) {
    const was = JSON.parse(kept);
    file = was.file;
    edit(was.table);
    desk.notice(t("project.kept"));
  }
  return () => clearTimeout(timer);
}

/** The fabric of a part, where it isn't the usual one. */
const fabricOf = (part) => (part.fabric === "shell" ? "" : `, ${part.fabric}`);

/** The panels of a project beside each other, to one scale. */
export function drawings(parts, most = 62) {
  const shown = parts.filter((each) => !each.strip).slice(0, 6);
  const largest = Math.max(...shown.map((each) => Math.max(...each.outline.flat())), 1);
  return shown.map((each) => drawing(each, most / largest));
}

/** A panel: its cut line, its seam line dashed where the allowance is known, and an arrow along the grain. */
function drawing(part, scale) {
  const wide = Math.max(...part.outline.map((p) => p[0]));
  const tall = Math.max(...part.outline.map((p) => p[1]));
  const [w, hh] = [Math.max(wide * scale, 3), Math.max(tall * scale, 3)];
  const points = part.outline.map(([x, y]) => [x * scale, hh - y * scale]);
  const inset = part.allowance * scale;
  const box = part.outline.length === 4 && inset > 1 && w > 3 * inset && hh > 3 * inset;
  const flat = part.grain === "across";
  const far = Math.min(w, hh) * 0.28;
  const [cx, cy] = [w / 2, hh / 2];
  const way = flat ? `M${cx - far} ${cy}H${cx + far}m-4 -3 4 3-4 3M${cx - far + 4} ${cy - 3}l-4 3 4 3` : `M${cx} ${cy - far}V${cy + far}m-3 -4 3 4 3 -4M${cx - 3} ${cy - far + 4}l3 -4 3 4`;
  return s(
    "svg", { width: w + 4, height: hh + 4, viewBox: `-2 -2 ${w + 4} ${hh + 4}`, role: "img", "aria-label": t("project.drawn", part) },
    s("path", { class: "shape", d: ring(points) }),
    box && s("rect", { class: "shape sewn", x: inset, y: inset, width: w - 2 * inset, height: hh - 2 * inset }),
    far > 5 && s("path", { class: "shape way", d: way }),
  );
}

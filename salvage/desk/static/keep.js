// What one takes along: the report to print, the marked photograph, everything at full size, the files themselves.

import { ask, follow, tab } from "./api.js";
import { progress } from "./app.js";
import { h, refs } from "./dom.js";
import { t } from "./words.js";

const STEPS = 4;

export async function open(element, [record, project], desk) {
  const at = refs(element);
  const stop = new AbortController();
  const folder = await desk.folder();
  at.all_in.textContent = t("keep.all_in", { folder: folder.folder });
  const { paper, what } = at.full.elements;
  paper.value = desk.settings.units === "in" ? "Letter" : "A4";

  /** Have something made, with a bar in its place; gives what the job told, null where it failed. */
  async function made(place, words, name, told, steps) {
    const bar = progress(place, words);
    desk.notice("");
    try {
      const { job } = await ask(name, { records: [record], project, ...told });
      return await follow(job, (each) => bar.move(Math.min(1, each.steps_done / steps)), stop.signal);
    } catch (error) {
      desk.failed(error);
      return null;
    } finally {
      bar.done();
    }
  }

  async function report() {
    const { large, grey } = at.looks.elements;
    const told = await made(at.progress, t("keep.making"), "report", { large: large.checked, grey: grey.checked }, STEPS);
    if (!told) return;
    const { files } = await ask("files", { names: [...told.files, record, project] });
    at.files.replaceChildren(...files.map((each) => line(each, { record, project })));
    for (const each of told.missing) desk.notice(each);
    at.cut_block.hidden = !told.yes;
    what.options[1].disabled = !told.files.some((each) => each.endsWith(".csv"));
  }

  at.looks.addEventListener("submit", (event) => {
    event.preventDefault();
    report().catch(desk.failed);
  });
  at.full.addEventListener("input", () => {
    paper.disabled = what.value === "layout" || at.full.elements.ending.value !== ".pdf";
  });
  at.full.addEventListener("submit", async (event) => {
    event.preventDefault();
    const told = await made(at.full_progress, t("keep.drawing"), "templates", { layout: what.value === "layout", ending: at.full.elements.ending.value, paper: paper.disabled ? "" : paper.value }, 2);
    if (!told) return;
    const [file] = (await ask("files", { names: told.files })).files;
    const lines = [...at.full_files.children].filter((each) => each.dataset.file !== file.name);
    at.full_files.replaceChildren(line(file, { sheets: told.sheets }), ...lines);
  });
  at.cut.addEventListener("click", async () => {
    at.cut.disabled = true;
    const told = await made(at.full_progress, t("keep.cutting"), "cut", { tab }, 2);
    if (!told) {
      at.cut.disabled = false;
      return;
    }
    const rests = Object.values(told.rests).filter(Boolean);
    at.cut_said.replaceChildren(
      t(rests.length ? "keep.cut_kept" : "keep.cut_nothing"), " ", ...rests.map((each) => h("a", { href: desk.address("found", each) }, each)), " ", h("a", { href: "#/rail" }, t("shelf.rail")),
    );
  });
  report().catch(desk.failed);
  return () => stop.abort();
}

function line({ name, ticket }, more = {}) {
  const address = `/take/${ticket}/${encodeURIComponent(name)}`;
  const opens = /\.(html|pdf|jpe?g)$/.test(name);
  const said = whatIs(name, more);
  return h(
    "li", { "data-file": name }, h("span", { class: "grow" }, said, h("small", {}, name)),
    opens && h("a", { class: "button small", href: address, target: "_blank", rel: "noopener", "aria-label": `${t("keep.open")}: ${said}` }, t("keep.open")),
    h("a", { class: "button small", href: `${address}?save`, download: name, "aria-label": `${t("keep.save")}: ${said}` }, t("keep.save")),
  );
}

function whatIs(name, { record, project, sheets }) {
  if (sheets) return t(sheets > 1 ? "keep.full_sheets" : "keep.full_sheet", { count: sheets });
  if (name === record) return t("keep.record");
  if (name === project) return t("keep.project");
  const ending = name.split(".").at(-1);
  return t({ html: "keep.report_html", pdf: "keep.report_pdf", csv: "keep.chart" }[ending] ?? "keep.marked");
}

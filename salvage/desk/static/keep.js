// What one takes along: the report to print, the marked photograph, the garment's and the project's files.

import { ask, follow } from "./api.js";
import { progress } from "./app.js";
import { h, refs } from "./dom.js";
import { t } from "./words.js";

const STEPS = 4;

export async function open(element, [record, project], desk) {
  const at = refs(element);
  const stop = new AbortController();
  const folder = await desk.folder();
  at.all_in.textContent = t("keep.all_in", { folder: folder.folder });
  const bar = progress(at.progress, t("keep.making"));
  try {
    const { job } = await ask("report", { records: [record], project });
    const told = await follow(job, (each) => bar.move(Math.min(1, each.steps_done / STEPS)), stop.signal);
    const { files } = await ask("files", { names: [...told.files, record, project] });
    at.files.replaceChildren(...files.map(line));
    for (const each of told.missing) desk.notice(each);
  } catch (error) {
    desk.failed(error);
  } finally {
    bar.done();
  }
  return () => stop.abort();
}

function line({ name, ticket }) {
  const address = `/take/${ticket}/${encodeURIComponent(name)}`;
  const opens = /\.(html|pdf|jpe?g)$/.test(name);
  return h(
    "li", {}, h("span", { class: "grow" }, whatIs(name), h("small", {}, name)),
    opens && h("a", { class: "button small", href: address, target: "_blank", rel: "noopener", "aria-label": `${t("keep.open")}: ${whatIs(name)}` }, t("keep.open")),
    h("a", { class: "button small", href: `${address}?save`, download: name, "aria-label": `${t("keep.save")}: ${whatIs(name)}` }, t("keep.save")),
  );
}

function whatIs(name) {
  const ending = name.split(".").at(-1);
  return t(`keep.${{ html: "report_html", pdf: "report_pdf", json: "record", toml: "project" }[ending] ?? "marked"}`);
}

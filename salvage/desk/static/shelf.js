// What lies in the folder: garments to go on with, photographs to measure, or a new one.

import { ask, picture } from "./api.js";
import { h, refs } from "./dom.js";
import { t } from "./words.js";

export async function open(element, _, desk) {
  const at = refs(element);
  const folder = await desk.folder();
  const used = new Set(folder.garments.flatMap((each) => each.photos ?? []));
  const photos = folder.photos.filter((each) => !used.has(each));
  at.garments.replaceChildren(...folder.garments.map((each) => line(each, desk)));
  at.none.hidden = folder.garments.length > 0;
  at.photos_block.hidden = photos.length === 0;
  at.rail_row.hidden = folder.garments.length < 2;
  at.measure_row.hidden = photos.length < 2;
  at.photos.replaceChildren(
    ...photos.map((name) => h("li", {}, h("a", { href: desk.address("photo", name) }, thumb(name), h("span", {}, h("strong", {}, name))))),
  );
  at.folder.textContent = t("shelf.folder", { folder: folder.folder });
  at.sample.hidden = folder.garments.length > 0;
  at.sample.addEventListener("click", async () => {
    try {
      const told = await ask("sample", { photo: true });
      desk.settings = await ask("settings", { side: told.side });
      desk.go("photo", told.photo);
    } catch (error) {
      desk.failed(error);
    }
  });
}

function line(garment, desk) {
  if (garment.error) {
    return h("li", {}, h("div", { class: "broken" }, h("div", { class: "thumb" }), h("span", {}, h("strong", {}, garment.name), h("small", {}, garment.error))));
  }
  return h(
    "li", {},
    h(
      "a", { href: desk.address("found", garment.file) }, thumb(garment.photos[0]),
      h(
        "span", {}, h("strong", {}, garment.name), t("shelf.line", { pieces: garment.pieces }), " ",
        garment.used ? h("span", { class: "tag" }, t("rail.used_yes")) : garment.asked ? h("span", { class: "tag" }, t("shelf.asked", { count: garment.asked })) : "",
      ),
    ),
  );
}

function thumb(photo) {
  const image = h("img", { class: "thumb", alt: "" });
  if (photo) picture(photo, { most: 480 }).then((address) => (image.src = address), () => {});
  return image;
}

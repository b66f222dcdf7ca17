// Drawing on the cloth: a tool at a time, each ending in one action that the store saves.
// To add a tool: a row in TOOLS with its icon and what it makes of the points; its words in the catalogue.

import { h, s, line, ring } from "./dom.js";
import { t } from "./words.js";
import { ask } from "./api.js";
import { boxOf } from "./garment.js";

const THIN = 1.2; // screen pixels that a freehand line may be simplified by
const NEAR = 14; // screen pixels from which a press takes hold of a point
const KNOBS_APART = 16; // screen pixels between the points of an outline that are shown

// shape: line, ring, stroke, points (a fixed number) or none. piece: it belongs to one piece, tapped or told.
const TOOLS = {
  look: { icon: "M4 4l6 16 2.5-6.5L19 11z", shape: "none", say: "say_look" },
  line: { icon: "M3 20 9 9l6 4 6-9", shape: "line", kinds: ["seam", "hem", "closure"], say: "say_line" },
  patch: { icon: "M5 8l6-4 8 3 1 8-7 5-8-3z", shape: "area", kinds: ["pocket", "stain", "worn", "other"], say: "say_patch" },
  clear: { icon: "M5 13l4 5L20 5", shape: "area", say: "say_clear" },
  usable: { icon: "M5 8l6-4 8 3 1 8-7 5-8-3zM9 12l2 2 4-4", shape: "area", say: "say_usable" },
  edge: { icon: "M4 18 9 6l10 2 2 11zM9 6v.1M19 8v.1M4 18v.1", shape: "none", say: "say_edge" },
  redraw: { icon: "M4 17 9 6l10 2-3 5M14 20l7-7-2-2-7 7-1 3z", shape: "ring", piece: true, say: "say_redraw" },
  split: { icon: "M5 4h14v6H5zM5 14h14v6H5zM2 12h2m3 0h2m3 0h2m3 0h2m3 0h2", shape: "line", say: "say_split" },
  join: { icon: "M4 5h7v14H4zM13 5h7v14h-7zM9 12h6", shape: "none", say: "say_join" },
  grain: { icon: "M12 3v18M8 7l4-4 4 4M8 17l4 4 4-4", shape: "pair", piece: true, say: "say_grain" },
  tape: { icon: "M3 8h18v8H3zM7 8v4m4-4v5m4-5v4m4-4v5", shape: "pair", say: "say_tape" },
  cloth: { icon: "M5 5h14v14H5zM9 5v14M15 5v14M5 9h14M5 15h14", shape: "stroke", photo: true, say: "say_cloth" },
  floor: { icon: "M3 7h18M3 12h18M3 17h18M8 7v5m7-5v0M14 12v5", shape: "stroke", photo: true, say: "say_floor" },
};

export class Chalk {
  /** place: where the bar goes. pick: called with {piece} or {mark} or {} when one is chosen. */
  constructor(place, board, store, { pick, tell }) {
    Object.assign(this, { board, store, pick, tell });
    this.tool = "look";
    this.kind = { line: "seam", patch: "stain" };
    this.way = "ring";
    this.brush = 18; // screen pixels across
    this.points = [];
    this.piece = null; // index of the piece that the tool works on
    this.first = null;
    this.knob = null; // {ring, point} of the chosen point of an outline
    this.mark = null; // number of the mark that is being drawn again
    this.draft = s("g");
    this.bar = h("div", { class: "chalkbar", role: "toolbar", "aria-label": t("chalk.toolbar") });
    this.options = h("div", { class: "options" });
    this.say = h("p", { class: "say", role: "status" });
    this.back = h("div", { class: "back" });
    board.element.append(this.back);
    place.replaceChildren(this.bar, this.options, this.say);
    this.bar.addEventListener("keydown", (event) => this.along(event));
    Object.assign(board.listeners, {
      tap: (px, event) => this.tap(px, event),
      begin: (px, event, target) => this.begin(px, target),
      drag: (px) => this.drag(px),
      end: (px) => this.end(px),
      cancel: () => this.cancel(),
      key: (event) => this.key(event),
      view: () => this.knobs(),
      cross: (px) => this.crossed(px),
    });
    this.choose("look");
  }

  get garment() {
    return this.store.garment;
  }

  get may() {
    return !this.garment.held && this.garment.photos.some((each) => each.file === this.board.photo);
  }

  /** Whether what lies there was photographed; cloth that was typed in lies on plain ground. */
  get photographed() {
    return this.board.photo !== "";
  }

  /** Places as an action tells them: pixels of the photograph, or mm of a piece that has none. */
  places(points, piece) {
    if (this.photographed) return { photo: this.board.photo, px: points };
    const [x0, y0] = this.garment.photos.find((each) => each.file === "").origin;
    return { piece, mm: points.map(([x, y]) => [x0 + x, y0 - y]) };
  }

  /** The piece that what was drawn is about: the one under most of it. */
  pieceUnder(points) {
    const middle = points[Math.floor(points.length / 2)];
    const centre = [points.reduce((sum, p) => sum + p[0], 0) / points.length, points.reduce((sum, p) => sum + p[1], 0) / points.length];
    return [centre, middle, between(points[0], points.at(-1)), ...points].map((each) => this.pieceAt(each)).find((each) => each !== null);
  }

  // --- the bar ------------------------------------------------------------------------------------

  show() {
    const button = (name, icon, attributes) =>
      h("button", { type: "button", ...attributes }, s("svg", { viewBox: "0 0 24 24", "aria-hidden": true }, s("path", { d: icon })), t(`chalk.${name}`));
    const held = document.activeElement?.dataset?.tool;
    this.bar.replaceChildren(
      ...Object.entries(TOOLS).map(([name, tool]) =>
        button(name, tool.icon, { "data-tool": name, "aria-pressed": String(name === this.tool), disabled: name !== "look" && (!this.may || (tool.photo && !this.photographed)), onclick: () => this.choose(name) }),
      ),
    );
    const step = (name, icon) =>
      h("button", { type: "button", "data-tool": name, "aria-label": t(`chalk.${name}`), title: t(`chalk.${name}`), disabled: !this.garment[name] || this.garment.held, onclick: () => this.store[name]() }, s("svg", { viewBox: "0 0 24 24", "aria-hidden": true }, s("path", { d: icon })));
    this.back.replaceChildren(step("undo", "M9 7H4V2M4 7c5-5 16-3 16 6s-9 8-12 5"), step("redo", "M15 7h5V2M20 7C15 2 4 4 4 13s9 8 12 5"));
    if (held) (this.bar.querySelector(`[data-tool="${held}"]`) ?? this.back.querySelector(`[data-tool="${held}"]`))?.focus();
  }

  along(event) {
    const step = { ArrowRight: 1, ArrowLeft: -1 }[event.key];
    if (!step) return;
    const all = [...this.bar.querySelectorAll("button:not([disabled])")];
    all[(all.indexOf(document.activeElement) + step + all.length) % all.length]?.focus();
    event.preventDefault();
  }

  choose(name, { mark = null, piece = null } = {}) {
    this.tool = name;
    this.mark = mark;
    this.piece = piece;
    this.first = null;
    this.knob = null;
    this.points = [];
    this.board.draw(TOOLS[name].shape !== "none" || name === "edge");
    this.show();
    this.showOptions();
    this.redraw();
    this.speak();
  }

  /** Draw a mark again, with the tool for its shape. */
  again(mark) {
    this.choose(mark.rings.length ? "patch" : "line", { mark: mark.number });
    this.board.frame(boxOf(mark), 0.5);
    this.board.element.focus({ preventScroll: true });
  }

  speak(text = null) {
    const tool = TOOLS[this.tool];
    const piece = this.garment.pieces[this.piece];
    if (text) this.say.textContent = text;
    else if (this.mark !== null) this.say.textContent = t("chalk.say_shape", { number: this.mark });
    else if (this.tool === "redraw" && piece) this.say.textContent = t("chalk.say_redraw_now", { piece: piece.name });
    else if (this.tool === "join" && this.first !== null) this.say.textContent = t("chalk.say_join_second", { piece: this.garment.pieces[this.first].name });
    else this.say.textContent = t(`chalk.${this.tool === "patch" && this.way === "brush" ? "say_brush" : this.tool === "clear" && this.way === "brush" ? "brush_clear" : tool.say}`);
  }

  showOptions() {
    const tool = TOOLS[this.tool];
    const pills = (label, name, values, now, set) =>
      h(
        "fieldset", {}, h("legend", {}, t(label)),
        values.map((value) =>
          h("label", { class: "pill" }, h("input", { type: "radio", name, value, checked: value === now, onchange: () => set(value) }), t(`chalk.${value}`)),
        ),
      );
    const made = [];
    const choosing = this.mark === null;
    if (tool.kinds && choosing) made.push(pills("chalk.kind", "kind", tool.kinds, this.kind[this.tool], (value) => (this.kind[this.tool] = value)));
    if (tool.shape === "area") {
      made.push(
        pills("chalk.with", "way", ["ring", "brush"], this.way, (value) => {
          this.way = value;
          this.cancel();
          this.showOptions();
          this.speak();
        }),
      );
      if (this.way === "brush") {
        const slider = h("input", { type: "range", min: 6, max: 60, value: this.brush, "aria-label": t("chalk.size"), oninput: () => (this.brush = Number(slider.value)) });
        made.push(slider);
      }
    }
    const small = (key, work, attributes = {}) => h("button", { type: "button", class: "button small", onclick: work, ...attributes }, t(key));
    if (tool.shape !== "none") {
      this.done = small("chalk.done", () => this.finish(), { hidden: true });
      this.leave = small("app.cancel", () => this.cancel(), { hidden: true });
      made.push(this.done, this.leave);
    }
    if (this.tool === "edge" && this.piece !== null) {
      made.push(
        small("chalk.point_before", () => this.nextKnob(-1)), small("chalk.point_after", () => this.nextKnob(1)),
        small("chalk.point_delete", () => this.deleteKnob(), { disabled: this.knob === null }),
      );
    }
    this.saved = h("span", { class: "saved", "data-saved": "" });
    this.options.replaceChildren(...made, this.saved);
  }

  // --- what is being drawn ---------------------------------------------------------------------------

  get shape() {
    const { shape } = TOOLS[this.tool];
    if (this.mark !== null && shape === "area") return this.way === "brush" ? "stroke" : "ring";
    return shape === "area" ? (this.way === "brush" ? "stroke" : "ring") : shape;
  }

  get brushed() {
    return TOOLS[this.tool].shape === "area" && this.way === "brush";
  }

  redraw() {
    const made = [];
    if (this.points.length) {
      const d = this.shape === "ring" && this.points.length > 2 ? ring(this.points) : line(this.points);
      const kind = this.shape === "ring" ? " ring" : "";
      if (this.brushed) made.push(s("path", { class: "draft rub", d: this.points.length > 1 ? d : `${d}h0.1`, "stroke-width": (2 * this.brush) / this.board.k }));
      else made.push(s("path", { class: `draft${kind}`, d }), s("path", { class: "draft top", d }));
      if (!this.stroking && this.points.length < 40) made.push(...this.points.map(([x, y]) => s("circle", { class: "knob", cx: x, cy: y, r: 5 / this.board.k, "data-r": 5 })));
    }
    this.draft.replaceChildren(...made);
    this.board.layers.append(this.draft);
    const pending = this.points.length > 0;
    if (this.done) this.done.hidden = !pending;
    if (this.leave) this.leave.hidden = !pending;
    this.knobs();
  }

  pieceAt(px) {
    const [x, y] = this.board.toScreen(px);
    const box = this.board.box();
    const found = document.elementsFromPoint(x + box.left, y + box.top).find((each) => each.closest?.(".piece"));
    return found ? Number(found.closest(".piece").dataset.piece) : null;
  }

  markAt(event) {
    const found = document.elementsFromPoint(event.clientX, event.clientY).find((each) => each.closest?.("[data-mark]"));
    return found ? Number(found.closest("[data-mark]").dataset.mark) : null;
  }

  begin(px, target) {
    if (!this.may) return false;
    if (this.tool === "edge") {
      const held = this.knobAt(px);
      if (!held) return false;
      this.knob = held;
      return true;
    }
    if (this.shape === "none") return false;
    if (TOOLS[this.tool].piece && this.tool === "redraw" && this.piece === null) return false;
    this.stroking = true;
    if (this.shape !== "line" && this.shape !== "ring") this.points = [];
    this.points.push(px);
    this.redraw();
    return Boolean(target);
  }

  drag(px) {
    if (this.tool === "edge") {
      this.moved = px;
      this.knobs();
      return;
    }
    if (this.shape === "pair") this.points = [this.points[0], px];
    else this.points.push(px);
    this.redraw();
  }

  end(px) {
    if (this.tool === "edge") {
      this.dropKnob(this.moved ?? px);
      return;
    }
    this.stroking = false;
    if (this.shape !== "pair") this.points = thinned(this.points, THIN / this.board.k);
    this.redraw();
    this.finish();
  }

  cancel() {
    this.stroking = false;
    this.moved = null;
    this.points = [];
    this.redraw();
  }

  tap(px, event) {
    if (this.tool === "look" || !this.may) {
      const mark = this.markAt(event);
      const piece = this.pieceAt(px);
      this.pick(mark !== null ? { mark } : piece !== null ? { piece } : {});
      return;
    }
    this.point(px);
  }

  /** A point was set, by a tap or with the keyboard. */
  point(px) {
    if (this.tool === "join") this.join(this.pieceAt(px));
    else if (this.tool === "edge") this.edgeTap(px);
    else if (this.tool === "redraw" && this.piece === null) {
      this.piece = this.pieceAt(px);
      this.speak(this.piece === null ? t("chalk.nothing_here") : null);
    } else {
      this.points.push(px);
      this.redraw();
      if (this.shape === "pair" && this.points.length === 2) this.finish();
      else this.speak(t("chalk.points", { count: this.points.length }));
    }
  }

  key(event) {
    const ctrl = event.ctrlKey || event.metaKey;
    if (ctrl && event.key.toLowerCase() === "z") {
      if (event.shiftKey) this.store.redo();
      else this.store.undo();
      return true;
    }
    if (ctrl && event.key.toLowerCase() === "y") {
      this.store.redo();
      return true;
    }
    if (event.key === "Escape") {
      if (this.points.length || this.first !== null) {
        this.first = null;
        this.cancel();
        this.speak();
      } else this.choose("look");
      return true;
    }
    if (event.key === "Enter" || event.key === " ") {
      if (this.tool === "look") {
        const middle = this.board.toPx([this.board.box().width / 2, this.board.box().height / 2]);
        const piece = this.pieceAt(middle);
        this.pick(piece === null ? {} : { piece });
      } else if (this.tool === "edge" && this.knob && this.moved) this.dropKnob(this.moved);
      else if (this.may) this.point(this.tool === "join" || this.tool === "edge" ? this.board.crossAt() : this.board.crossAt());
      return true;
    }
    if (event.key.toLowerCase() === "f" && !ctrl) {
      this.finish();
      return true;
    }
    if (event.key === "Backspace" && this.points.length) {
      this.points.pop();
      this.redraw();
      return true;
    }
    if (this.tool === "edge" && this.knob) {
      if (event.key === "Delete" || event.key === "Backspace") {
        this.deleteKnob();
        return true;
      }
      const arrows = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };
      if (event.key in arrows) {
        const by = (event.shiftKey ? 20 : 4) / this.board.k;
        const at = this.moved ?? this.knobPlace(this.knob);
        this.moved = [at[0] + arrows[event.key][0] * by, at[1] + arrows[event.key][1] * by];
        this.knobs();
        return true;
      }
    }
    return false;
  }

  crossed([x, y]) {
    const piece = this.pieceAt([x, y]);
    const where = t("chalk.at", { x: Math.round(x), y: Math.round(y) });
    this.tell(piece === null ? where : `${this.garment.pieces[piece].name}, ${where}`);
  }

  // --- making an action of it ---------------------------------------------------------------------------

  async finish() {
    const points = this.points;
    const least = { line: 2, ring: 3, stroke: 1, pair: 2 }[this.shape] ?? 1;
    if (!points.length) return;
    if (points.length < least) {
      this.speak();
      return;
    }
    const action = this.action(points);
    if (!action) return;
    if (this.tool === "tape") {
      await this.tape(points);
      return;
    }
    const again = this.mark !== null;
    const done = await this.store.edit(action);
    if (this.points === points) this.cancel();
    if (done && again) this.choose("look");
    else if (done) this.speak();
  }

  action(points) {
    const brush = this.brushed ? { brush: Math.round((this.brush / this.board.k) * 10) / 10 } : {};
    if (this.mark !== null) {
      const { pieces } = this.garment.marks.find((each) => each.number === this.mark);
      return { do: "shape", mark: this.mark, ...this.places(points, pieces[0]), ...brush };
    }
    const on = this.pieceUnder(points);
    if (on === undefined && (["split", "grain", "usable"].includes(this.tool) || !this.photographed)) {
      this.cancel();
      this.speak(t("chalk.which_piece"));
      return null;
    }
    const px = this.places(points, on);
    switch (this.tool) {
      case "line":
        return { do: this.kind.line, ...px };
      case "patch":
        return { do: this.kind.patch, ...px, ...brush };
      case "clear":
        return { do: "clear", ...px, ...brush };
      case "usable":
        return { do: "usable", ...px, ...brush, piece: on };
      case "redraw":
        return { do: "outline", ...this.places(points, this.piece), piece: this.piece };
      case "split":
        return { do: "split", ...px, piece: on };
      case "grain":
        return { do: "grain", ...this.places([points[0], points.at(-1)], on), piece: on };
      case "cloth":
      case "floor":
        return { do: this.tool, ...px };
      default:
        return { do: "tape" };
    }
  }

  async tape(points) {
    try {
      const told = await ask("tape", { record: this.garment.record, photo: this.board.photo, px: points });
      this.speak(told.said);
      const middle = between(...points);
      this.board.label(told.said, middle);
      this.board.show();
    } catch (error) {
      this.speak(error.message);
    }
    this.points = [];
    if (this.done) this.done.hidden = this.leave.hidden = true;
  }

  async join(piece) {
    if (piece === null) {
      this.speak(t("chalk.nothing_here"));
      return;
    }
    if (this.first === null) {
      this.first = piece;
      this.speak();
      return;
    }
    const pieces = [this.first, piece];
    this.first = null;
    if (pieces[0] === piece) this.speak();
    else if (await this.store.edit({ do: "join", pieces })) this.speak();
  }

  // --- the points of an outline -----------------------------------------------------------------------------

  /** Points of the piece's outline that are shown: all where there is room, else the corners that shape it. */
  shownKnobs() {
    const piece = this.garment.pieces[this.piece];
    if (!piece || piece.photo !== this.board.photo) return [];
    return piece.rings.flatMap((points, ringNumber) =>
      corners(points, KNOBS_APART / this.board.k).map((point) => ({ ring: ringNumber, point, at: points[point] })),
    );
  }

  knobPlace({ ring: number, point }) {
    return this.garment.pieces[this.piece].rings[number][point];
  }

  knobAt(px) {
    const near = this.shownKnobs().map((each) => [Math.hypot(each.at[0] - px[0], each.at[1] - px[1]) * this.board.k, each]);
    near.sort((a, b) => a[0] - b[0]);
    return near.length && near[0][0] <= NEAR ? near[0][1] : null;
  }

  knobs() {
    if (this.tool !== "edge") return;
    const made = this.shownKnobs().map((each) => {
      const picked = this.knob && each.ring === this.knob.ring && each.point === this.knob.point;
      const [x, y] = picked && this.moved ? this.moved : each.at;
      return s("circle", { class: `knob${picked ? " picked" : ""}`, cx: x, cy: y, r: (picked ? 9 : 6.5) / this.board.k });
    });
    if (this.knob && this.moved) {
      const d = line([this.knobPlace(this.knob), this.moved]);
      made.push(s("path", { class: "draft", d }), s("path", { class: "draft top", d }));
    }
    this.draft.replaceChildren(...made);
    if (this.draft.parentNode !== this.board.layers) this.board.layers.append(this.draft);
  }

  edgeTap(px) {
    const held = this.piece === null ? null : this.knobAt(px);
    if (held) {
      this.knob = held;
      this.showOptions();
      this.knobs();
      return;
    }
    if (this.piece !== null) {
      const place = this.onEdge(px);
      if (place) {
        this.store.edit({ do: "add", ring: place.ring, point: place.point, ...this.places([px], this.piece), piece: this.piece });
        return;
      }
    }
    this.piece = this.pieceAt(px);
    this.knob = null;
    this.speak(this.piece === null ? t("chalk.nothing_here") : null);
    this.pick(this.piece === null ? {} : { piece: this.piece });
    this.showOptions();
    this.knobs();
  }

  /** Between which two points of the outline a place lies on it. */
  onEdge(px) {
    let best = null;
    this.garment.pieces[this.piece].rings.forEach((points, number) =>
      points.forEach((a, n) => {
        const far = toSegment(px, a, points[(n + 1) % points.length]) * this.board.k;
        if (far <= NEAR && (!best || far < best.far)) best = { far, ring: number, point: n + 1 };
      }),
    );
    return best;
  }

  async dropKnob(to) {
    const knob = this.knob;
    this.moved = null;
    if (!knob || !to) return;
    const shown = this.shownKnobs().filter((each) => each.ring === knob.ring);
    const piece = this.garment.pieces[this.piece];
    const photo = this.garment.photos.find((each) => each.file === this.board.photo);
    // Points between those that are shown follow the one that is moved, so that a curve stays one.
    const thin = shown.length < piece.rings[knob.ring].length;
    const far = Math.min(...shown.filter((each) => each.point !== knob.point).map((each) => Math.hypot(each.at[0] - knob.at[0], each.at[1] - knob.at[1])));
    const reach = thin && Number.isFinite(far) ? { reach: Math.round(far * photo.mm_per_px) } : {};
    await this.store.edit({ do: "move", ring: knob.ring, point: knob.point, ...this.places([to], this.piece), ...reach, piece: this.piece });
    this.knob = null;
    this.showOptions();
    this.knobs();
  }

  nextKnob(step) {
    const shown = this.shownKnobs();
    const now = shown.findIndex((each) => this.knob && each.ring === this.knob.ring && each.point === this.knob.point);
    this.knob = shown[(now + step + shown.length) % shown.length] ?? null;
    this.moved = null;
    this.showOptions();
    this.knobs();
    if (this.knob) this.tell(t("chalk.at", { x: Math.round(this.knob.at[0]), y: Math.round(this.knob.at[1]) }));
    this.board.element.focus({ preventScroll: true });
  }

  async deleteKnob() {
    const knob = this.knob;
    this.knob = null;
    this.moved = null;
    if (knob) await this.store.edit({ do: "delete", piece: this.piece, ring: knob.ring, point: knob.point });
    this.showOptions();
  }

  /** The garment is another: what was chosen may be gone. */
  renewed() {
    if (this.piece !== null && !this.garment.pieces[this.piece]) this.piece = null;
    this.show();
    this.redraw();
  }
}

const between = (a, b) => [(a[0] + b[0]) / 2, (a[1] + b[1]) / 2];

function toSegment([x, y], [ax, ay], [bx, by]) {
  const [dx, dy] = [bx - ax, by - ay];
  const along = Math.min(1, Math.max(0, ((x - ax) * dx + (y - ay) * dy) / (dx * dx + dy * dy || 1)));
  return Math.hypot(x - ax - along * dx, y - ay - along * dy);
}

/** A line without the points that lie within `by` of it (Douglas and Peucker 1973). */
export function thinned(points, by) {
  if (points.length < 3) return points;
  let [worst, at] = [0, 0];
  for (let n = 1; n < points.length - 1; n += 1) {
    const far = toSegment(points[n], points[0], points.at(-1));
    if (far > worst) [worst, at] = [far, n];
  }
  if (worst <= by) return [points[0], points.at(-1)];
  return [...thinned(points.slice(0, at + 1), by).slice(0, -1), ...thinned(points.slice(at), by)];
}

/** Indices of a ring's points that shape it, none nearer to the one before than `apart`. */
function corners(points, apart) {
  if (points.length <= 8) return points.map((_, n) => n);
  const half = Math.floor(points.length / 2);
  const kept = new Set([...thinned(points.slice(0, half + 1), apart / 6), ...thinned([...points.slice(half), points[0]], apart / 6)]);
  const found = [];
  points.forEach((each, n) => {
    const last = found.length ? points[found.at(-1)] : null;
    if (kept.has(each) && (!last || Math.hypot(each[0] - last[0], each[1] - last[1]) >= apart)) found.push(n);
  });
  return found;
}

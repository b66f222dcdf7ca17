// A photograph to look at and to draw on: mouse, finger, pen and keyboard; it pans, pinches and zooms.
// Coordinates given and taken are pixels of the photograph; what is drawn over it goes into `layers`.

import { h, s, line } from "./dom.js";
import { picture } from "./api.js";
import { t } from "./words.js";

const NEAREST = 12; // screen pixels to a photograph's pixel, at most
const WITH_FLOOR = 0.78; // of the board's width or height that a garment takes at first
const WORTH = 1.2; // how much larger it must then be, or all of the photograph is shown
const MOVED = 7; // screen pixels that a press may stray and still be a tap
const SHARP = 1.3; // screen pixels to a pixel of the reduced picture from which the larger one is fetched
const HATCHES = {
  seam: ["#7fd4ff", "M0 0"], hem: ["#7fd4ff", "M0 0"],
  closure: ["#d3c2ff", "M3 0V8M7 0V8"], pocket: ["#8cc6ff", "M0 8 8 0M-2 2 2 -2M6 10 10 6"],
  worn: ["#ff9c72", "M0 0 8 8M8 0 0 8"], other: ["#e2e2e2", "M2 2h1M6 6h1"],
};
const LABEL = 18; // screen pixels that a label is tall
// Where a label may lie that has no room on its place, in its own widths and heights, the nearest first.
const BESIDE = [[0, 0], [0, -1], [0, 1], [1, 0], [-1, 0], [1, -1], [-1, -1], [1, 1], [-1, 1], [0, -2], [0, 2], [2, 0], [-2, 0]];
const overlap = (a, b) => a[0] < b[2] && b[0] < a[2] && a[1] < b[3] && b[1] < a[3];
let boards = 0;

export class Board {
  /** listeners: tap(px, event), begin/drag/end(px, event) of a stroke while drawing, key(event), view(). */
  constructor(place, label, listeners = {}) {
    this.listeners = listeners;
    this.id = ++boards;
    this.drawing = false; // whether one finger draws; two always move the picture
    this.cross = null; // where the keyboard's cross stands while drawing
    this.size = [4, 3];
    this.k = 1;
    this.left = 0;
    this.top = 0;
    this.layers = s("g");
    this.labels = s("g");
    this.image = s("image", { x: 0, y: 0, preserveAspectRatio: "none" });
    this.paper = s("rect", { class: "paper", x: 0, y: 0 });
    this.cross_layer = s("g");
    this.view = s("g", {}, this.paper, this.image, this.layers, this.cross_layer);
    this.svg = s("svg", { class: "over", role: "img", "aria-label": label }, s("defs", {}, this.hatches()), this.view, this.labels);
    const zoom = (sign, key, by) =>
      h("button", { type: "button", "aria-label": t(key), title: t(key), onclick: () => (by ? this.nearer(by) : this.all()) }, sign);
    this.element = h(
      "div", { class: "board", tabindex: 0, role: "group", "aria-roledescription": t("chalk.toolbar"), "aria-label": label }, this.svg,
      h("div", { class: "zoom" }, zoom("+", "chalk.nearer", 1.4), zoom("−", "chalk.farther", 1 / 1.4), zoom("⤢", "chalk.whole", 0)),
    );
    place.replaceChildren(this.element);
    this.listen();
    this.first = null; // box of what is looked at first
    this.observer = new ResizeObserver(() => (this.touched ? this.show() : this.begin()));
    this.observer.observe(this.element);
  }

  hatches() {
    return Object.entries(HATCHES).map(([kind, [colour, d]]) =>
      s(
        "pattern", { id: `hatch-${this.id}-${kind}`, width: 8, height: 8, patternUnits: "userSpaceOnUse" },
        s("rect", { width: 8, height: 8, fill: "#10161c", "fill-opacity": 0.35 }), s("path", { d, stroke: colour, "stroke-width": 1.6 }),
      ),
    );
  }

  /** The paint of a kind of blocked area; its hatching keeps its size on the screen. */
  hatch(kind) {
    return `url(#hatch-${this.id}-${kind})`;
  }

  /** Show a photograph; "" is plain paper. */
  async load(photo, size) {
    const same = this.photo === photo && this.size[0] === size[0];
    this.photo = photo;
    this.size = size;
    this.element.style.setProperty("--shape", `${size[0]} / ${size[1]}`);
    for (const each of [this.image, this.paper]) {
      each.setAttribute("width", size[0]);
      each.setAttribute("height", size[1]);
    }
    if (same) return;
    this.touched = false;
    this.first = null;
    this.sharp = false;
    this.image.removeAttribute("href");
    this.whole();
    if (!photo) return;
    try {
      const address = await picture(photo, { most: 1600 });
      if (this.photo === photo && !this.sharp) this.image.setAttribute("href", address);
      this.element.dataset.shown = photo;
    } catch {
      this.image.removeAttribute("href"); // what was found is drawn on plain ground then
    }
  }

  async sharpen() {
    const wanted = this.photo;
    if (this.sharp || !wanted || this.k * devicePixelRatio < (SHARP * 1600) / Math.max(...this.size)) return;
    this.sharp = true;
    try {
      const address = await picture(wanted, { most: 4096 });
      if (this.photo === wanted) this.image.setAttribute("href", address);
    } catch {
      this.sharp = false;
    }
  }

  // --- the view ---------------------------------------------------------------------------------

  box() {
    return this.element.getBoundingClientRect();
  }

  /** All of the photograph. */
  whole() {
    const { width, height } = this.box();
    if (!width) return;
    this.k = Math.min(width / this.size[0], height / this.size[1]);
    this.left = (width - this.size[0] * this.k) / 2;
    this.top = (height - this.size[1] * this.k) / 2;
    this.touched = false;
    this.show();
  }

  all() {
    this.first = null;
    this.whole();
  }

  /** What is looked at first, with some floor round it: left, top, right, bottom; null is all of the photograph. */
  home(box) {
    this.first = box;
    if (!this.touched) this.begin();
  }

  begin() {
    const { width, height } = this.box();
    this.whole();
    if (!this.first || !width) return;
    const [x0, y0, x1, y1] = this.first;
    const nearer = Math.min(width / (x1 - x0), height / (y1 - y0)) * WITH_FLOOR;
    if (nearer < this.k * WORTH) return;
    this.frame(this.first, WITH_FLOOR);
    this.touched = false;
  }

  /** Bring a part of the photograph into view: left, top, right, bottom. */
  frame([x0, y0, x1, y1], share = 0.6) {
    const { width, height } = this.box();
    const k = Math.min((width * share) / Math.max(x1 - x0, 1), (height * share) / Math.max(y1 - y0, 1));
    this.k = Math.min(k, 2.5);
    this.left = width / 2 - ((x0 + x1) / 2) * this.k;
    this.top = height / 2 - ((y0 + y1) / 2) * this.k;
    this.touched = true;
    this.show();
  }

  nearer(by, at = null) {
    const { width, height } = this.box();
    const [x, y] = at ?? (this.cross && this.drawing ? this.toScreen(this.cross) : [width / 2, height / 2]);
    const least = 0.5 * Math.min(width / this.size[0], height / this.size[1]);
    const k = Math.min(Math.max(this.k * by, least), NEAREST);
    this.left = x - ((x - this.left) * k) / this.k;
    this.top = y - ((y - this.top) * k) / this.k;
    this.k = k;
    this.touched = true;
    this.show();
  }

  move(dx, dy) {
    this.left += dx;
    this.top += dy;
    this.touched = true;
    this.show();
  }

  show() {
    this.view.setAttribute("transform", `translate(${this.left} ${this.top}) scale(${this.k})`);
    for (const pattern of this.svg.querySelectorAll("pattern")) pattern.setAttribute("patternTransform", `scale(${1 / this.k})`);
    this.showLabels();
    for (const knob of this.layers.querySelectorAll(".knob")) knob.setAttribute("r", Number(knob.dataset.r ?? 7) / this.k);
    this.showCross();
    this.sharpen();
    this.listeners.view?.();
  }

  /** Labels side by side: numbers first, each as near to its place as it is free, with a line to it; then names. */
  showLabels() {
    const taken = [];
    const all = [...this.labels.children];
    const weight = (label) => (label.dataset.number ? (label.matches(".asked") ? 0 : 1) : 2);
    for (const each of all.sort((a, b) => weight(a) - weight(b))) {
      const [x, y] = this.toScreen([Number(each.dataset.x), Number(each.dataset.y)]);
      const small = each.dataset.room && Number(each.dataset.room) * this.k < Number(each.dataset.need);
      const [wide, tall] = [Number(each.dataset.wide) / 2, LABEL / 2];
      const boxAt = ([dx, dy]) => [x + dx * wide * 2 - wide, y + dy * LABEL - tall, x + dx * wide * 2 + wide, y + dy * LABEL + tall];
      const ways = each.dataset.number ? BESIDE : BESIDE.filter(([dx]) => dx === 0);
      const way = small ? null : ways.find((one) => !taken.some((other) => overlap(boxAt(one), other)));
      each.style.display = small || (!way && (each.dataset.room || weight(each) === 1)) ? "none" : ""; // nearer by there is room
      if (each.style.display) continue;
      const [dx, dy] = [(way?.[0] ?? 0) * wide * 2, (way?.[1] ?? 0) * LABEL];
      taken.push(boxAt(way ?? [0, 0]));
      each.setAttribute("transform", `translate(${(x + dx).toFixed(1)} ${(y + dy).toFixed(1)})`);
      each.querySelector(".leader")?.setAttribute("d", dx || dy ? `M0 0L${-dx} ${-dy}` : "");
    }
  }

  toScreen([x, y]) {
    return [x * this.k + this.left, y * this.k + this.top];
  }

  toPx([x, y]) {
    return [(x - this.left) / this.k, (y - this.top) / this.k];
  }

  at(event) {
    const box = this.box();
    return this.toPx([event.clientX - box.left, event.clientY - box.top]).map((v) => Math.round(v * 10) / 10);
  }

  // --- the keyboard's cross ------------------------------------------------------------------------

  draw(on) {
    this.drawing = on;
    this.element.classList.toggle("drawing", on);
    this.element.setAttribute("aria-label", t(on ? "chalk.board_draw" : "chalk.board"));
    if (!on) this.cross = null;
    this.showCross();
  }

  showCross() {
    if (!this.cross || !this.drawing) {
      this.cross_layer.replaceChildren();
      return;
    }
    const [x, y] = this.cross;
    const far = 16 / this.k;
    const d = `M${x - far} ${y}H${x + far}M${x} ${y - far}V${y + far}`;
    this.cross_layer.replaceChildren(s("path", { class: "cross", d }), s("path", { class: "cross top", d }));
  }

  step(dx, dy, far) {
    if (!this.drawing) {
      this.move(-dx * 40, -dy * 40);
      return;
    }
    const { width, height } = this.box();
    const by = (far ? 40 : 8) / this.k;
    const [x, y] = this.cross ?? this.toPx([width / 2, height / 2]);
    const clamp = (v, most) => Math.min(Math.max(v, 0), most - 1);
    this.cross = [clamp(x + dx * by, this.size[0]), clamp(y + dy * by, this.size[1])].map((v) => Math.round(v * 10) / 10);
    const [sx, sy] = this.toScreen(this.cross);
    const edge = 30;
    this.left -= Math.max(0, sx - (width - edge)) - Math.max(0, edge - sx);
    this.top -= Math.max(0, sy - (height - edge)) - Math.max(0, edge - sy);
    this.show();
    this.listeners.cross?.(this.cross);
  }

  /** Where the cross stands; the middle of the view if it was not moved yet. */
  crossAt() {
    const { width, height } = this.box();
    this.cross ??= this.toPx([width / 2, height / 2]).map((v) => Math.round(v * 10) / 10);
    this.showCross();
    return this.cross;
  }

  // --- pointers ---------------------------------------------------------------------------------------

  listen() {
    const down = new Map();
    let stroke = null;
    let from = null;
    const end = (event, cancelled) => {
      const was = down.get(event.pointerId);
      down.delete(event.pointerId);
      if (stroke === event.pointerId) {
        stroke = null;
        if (cancelled) this.listeners.cancel?.();
        else this.listeners.end?.(this.at(event), event);
      } else if (!cancelled && was && !was.moved && !was.second) this.listeners.tap?.(this.at(event), event);
      from = null;
    };
    this.element.addEventListener("pointerdown", (event) => {
      if (event.target.closest(".zoom, .back")) return;
      this.element.setPointerCapture(event.pointerId);
      const second = down.size > 0;
      down.set(event.pointerId, { x: event.clientX, y: event.clientY, x0: event.clientX, y0: event.clientY, moved: false, second, target: event.target, button: event.button });
      if (second) {
        for (const each of down.values()) each.second = true;
        if (stroke !== null) {
          stroke = null;
          this.listeners.cancel?.();
        }
      }
      from = null;
    });
    this.element.addEventListener("pointermove", (event) => {
      const held = down.get(event.pointerId);
      if (!held) return;
      const [dx, dy] = [event.clientX - held.x, event.clientY - held.y];
      if (down.size > 1) {
        this.pinch(down, event);
        return;
      }
      if (!held.moved && Math.hypot(event.clientX - held.x0, event.clientY - held.y0) < MOVED) return;
      const first = !held.moved;
      held.moved = true;
      const draws = held.button === 0 && !held.second && !event.altKey;
      if (first && draws && this.listeners.begin?.(this.at({ clientX: held.x0, clientY: held.y0 }), event, held.target)) stroke = event.pointerId;
      if (stroke === event.pointerId) this.listeners.drag?.(this.at(event), event);
      else this.move(dx, dy);
      held.x = event.clientX;
      held.y = event.clientY;
    });
    this.element.addEventListener("pointerup", (event) => end(event, false));
    this.element.addEventListener("pointercancel", (event) => end(event, true));
    this.element.addEventListener(
      "wheel",
      (event) => {
        event.preventDefault();
        const box = this.box();
        if (event.ctrlKey || Math.abs(event.deltaX) < Math.abs(event.deltaY)) {
          const by = Math.exp(-event.deltaY * (event.deltaMode ? 0.05 : event.ctrlKey ? 0.01 : 0.0018));
          this.nearer(by, [event.clientX - box.left, event.clientY - box.top]);
        } else this.move(-event.deltaX, 0);
      },
      { passive: false },
    );
    this.element.addEventListener("keydown", (event) => this.keys(event));
  }

  pinch(down, event) {
    const held = down.get(event.pointerId);
    const other = [...down.entries()].find(([id]) => id !== event.pointerId)[1];
    const box = this.box();
    const before = Math.hypot(held.x - other.x, held.y - other.y);
    const after = Math.hypot(event.clientX - other.x, event.clientY - other.y);
    const middle = [(event.clientX + other.x) / 2 - box.left, (event.clientY + other.y) / 2 - box.top];
    this.move((event.clientX - held.x) / 2, (event.clientY - held.y) / 2);
    if (before > 10) this.nearer(after / before, middle);
    held.x = event.clientX;
    held.y = event.clientY;
    held.moved = true;
  }

  keys(event) {
    if (event.target !== this.element) return;
    const arrows = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };
    if (this.listeners.key?.(event)) event.preventDefault();
    else if (event.key in arrows && !event.ctrlKey && !event.metaKey) {
      event.preventDefault();
      this.step(...arrows[event.key], event.shiftKey);
    } else if (event.key === "+" || event.key === "=") this.nearer(1.4);
    else if (event.key === "-") this.nearer(1 / 1.4);
    else if (event.key === "0") this.all();
  }

  // --- small drawing help -------------------------------------------------------------------------------

  /** A label that keeps its size; need: screen pixels wide that its room (px) must have for it to be shown. */
  label(text, [x, y], attributes = {}, room = null, need = 0) {
    const made = s("g", { "data-x": x, "data-y": y, "data-room": room, "data-need": need, "data-wide": 7.5 * text.length, class: attributes.class ?? "label" }, s("text", {}, text));
    this.labels.append(made);
    return made;
  }

  /** A number in a box. */
  number(text, [x, y], kind = "") {
    const wide = 9 + 7 * String(text).length;
    const made = s(
      "g", { class: `number ${kind}`, "data-x": x, "data-y": y, "data-number": true, "data-wide": wide }, s("path", { class: "leader" }),
      s("rect", { x: -wide / 2, y: -9, width: wide, height: 18, rx: 2 }), s("text", {}, text),
    );
    this.labels.append(made);
    return made;
  }

  /** A dark line with a light one on it, which shows on any cloth. */
  double(d, name) {
    return [s("path", { class: name, d }), s("path", { class: `${name} top`, d })];
  }

  close() {
    this.observer.disconnect();
  }
}

export { line };

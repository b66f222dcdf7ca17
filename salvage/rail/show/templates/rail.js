"use strict";
// Sorting and choosing among the cards. The page is whole without it: then all cards stand there as they were written.
(() => {
  const field = (id) => document.getElementById(id);
  const list = field("cards");
  const cards = Array.from(list.querySelectorAll(".card"));
  const step = Number(list.dataset.step);
  const mmPerUnit = Number(list.dataset.mm);
  const written = new Map(cards.map((card, place) => [card, place]));
  const byNumber = new Set(["area", "largest", "strip", "number"]);

  // A length along the grain of `long` mm surely lies on cloth whose cells are clear in so many columns and rows.
  function hasRoom(card, fabric, wide, long) {
    const columns = Math.max(1, Math.ceil(wide / step - 1e-9));
    const rows = Math.max(1, Math.ceil(long / step - 1e-9));
    return Array.from(card.querySelectorAll("[data-room]")).some((each) => {
      if (fabric && each.dataset.fabric !== fabric) return false;
      const room = each.dataset.room.split(" ").filter(Boolean).map(Number);
      return columns <= room.length && room[columns - 1] >= rows;
    });
  }

  function millimetres(id) {
    const value = Number(field(id).value.trim().replace(",", "."));
    return Number.isFinite(value) && value > 0 ? value * mmPerUnit : 0;
  }

  function wanted(card) {
    const text = field("text").value.trim().toLowerCase();
    const [what, cloth] = field("cloth").value.split(/:(.*)/s);
    const fabric = what === "fabric" ? cloth : "";
    const wide = millimetres("wide"), long = millimetres("long");
    if (text && !`${card.dataset.name} ${card.dataset.file}`.toLowerCase().includes(text)) return false;
    if (what === "kind" && card.dataset.kind !== cloth) return false;
    if (fabric && !card.dataset.fabrics.includes(`|${fabric}|`)) return false;
    if (field("ready").checked && (card.classList.contains("used") || card.classList.contains("unsuited"))) return false;
    return !(wide || long) || hasRoom(card, fabric, wide || step, long || step);
  }

  function order(one, other) {
    const by = field("sort").value;
    let apart = 0;
    if (byNumber.has(by)) apart = Number(other.dataset[by]) - Number(one.dataset[by]);
    else if (by === "date") apart = other.dataset.date.localeCompare(one.dataset.date);
    else if (by) apart = one.dataset[by].localeCompare(other.dataset[by], undefined, { numeric: true });
    return apart || written.get(one) - written.get(other);
  }

  function show() {
    let shown = 0;
    for (const card of cards) {
      card.hidden = !wanted(card);
      shown += card.hidden ? 0 : 1;
    }
    list.append(...cards.slice().sort(order));
    field("count").textContent = shown === cards.length ? "" : `${shown} of ${cards.length}`;
  }

  field("choose").addEventListener("input", show);
  field("choose").addEventListener("submit", (event) => event.preventDefault());
  field("choose").hidden = false;
  show();
})();

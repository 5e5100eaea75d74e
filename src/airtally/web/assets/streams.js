// Two fingers or the wheel with Ctrl bring the window closer; a drag moves it. The buttons above do the same without.
"use strict";
(() => {
  const figure = document.querySelector(".streams");
  if (!figure) return;
  const begin = Number(figure.dataset.begin), end = Number(figure.dataset.end), long = end - begin;
  const go = (from, to) => { location.search = new URLSearchParams({ begin: from.toFixed(0), end: to.toFixed(0) }).toString(); };
  const box = () => figure.querySelector("img").getBoundingClientRect();
  const at = (x) => begin + long * Math.min(Math.max((x - box().left) / box().width, 0), 1);
  const fingers = new Map();
  let first = null;
  figure.addEventListener("pointerdown", (event) => { fingers.set(event.pointerId, event.clientX); if (fingers.size === 2) first = [...fingers.values()]; });
  figure.addEventListener("pointermove", (event) => { if (fingers.has(event.pointerId)) fingers.set(event.pointerId, event.clientX); });
  const lift = (event) => {
    if (first && fingers.size === 2) {
      const now = [...fingers.values()];
      const before = Math.abs(first[1] - first[0]), after = Math.abs(now[1] - now[0]);
      if (Math.abs(after - before) > 30) {
        const middle = at((first[0] + first[1]) / 2), half = 0.5 * long * Math.min(Math.max(before / Math.max(after, 1), 0.05), 20);
        first = null; fingers.clear(); go(middle - half, middle + half);
        return;
      }
    }
    fingers.delete(event.pointerId); first = null;
  };
  figure.addEventListener("pointerup", lift);
  figure.addEventListener("pointercancel", lift);
  figure.addEventListener("wheel", (event) => {
    if (!event.ctrlKey) return;
    event.preventDefault();
    const half = 0.5 * long * (event.deltaY < 0 ? 0.5 : 2), middle = at(event.clientX);
    go(middle - half, middle + half);
  }, { passive: false });
})();

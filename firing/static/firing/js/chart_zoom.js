/* Zooms a chart in place: by pinching, by Ctrl and the wheel, by + - 0 and the arrow keys,
   and by the links that do the same without this file. The server draws every part anew,
   so the curve is as fine as its numbers. Hook: data-chart-zoom, with data-last (s). */
(() => {
  const SHORTEST_S = 900;
  const CLOSER = 0.7;
  const ALONG = 0.25;
  const LIVE_MS = 20_000;
  const waiting = new WeakMap();

  function plotOf(zoom) {
    return [...zoom.querySelectorAll("[data-plot]")].find(
      (svg) => svg.getClientRects().length > 0,
    );
  }

  function shown(zoom) {
    const { from, to, left, right, width } = plotOf(zoom).dataset;
    const box = plotOf(zoom).getBoundingClientRect();
    const scale = box.width / Number(width);
    return {
      from: Number(from),
      to: Number(to),
      left: box.left + Number(left) * scale,
      right: box.left + Number(right) * scale,
    };
  }

  function momentAt(zoom, clientX) {
    const { from, to, left, right } = shown(zoom);
    const share = Math.min(1, Math.max(0, (clientX - left) / (right - left)));
    return from + share * (to - from);
  }

  function show(zoom, from, to) {
    const last = Number(zoom.dataset.last);
    const length = Math.min(Math.max(to - from, SHORTEST_S), last);
    const start = Math.min(Math.max(0, from), last - length);
    const isWhole = length >= last;
    const part = `${Math.round(start)}-${Math.round(start + length)}`;
    const address = new URL(window.location.href);
    address.searchParams.set("part", isWhole ? "whole" : part);
    draw(zoom, address);
  }

  // One request at a time, then only the latest of the others.
  async function draw(zoom, address) {
    if (waiting.has(zoom)) {
      waiting.set(zoom, address);
      return;
    }
    waiting.set(zoom, null);
    try {
      const answer = await fetch(address);
      if (answer.ok) {
        const page = new DOMParser().parseFromString(await answer.text(), "text/html");
        const fresh = page.getElementById(zoom.id);
        if (fresh) take(zoom, fresh, address);
      }
    } finally {
      const next = waiting.get(zoom);
      waiting.delete(zoom);
      if (next) draw(zoom, next);
    }
  }

  // A firing that runs grows: every so often its part is drawn again, unless nobody looks.
  setInterval(() => {
    if (document.hidden) return;
    for (const zoom of document.querySelectorAll("[data-chart-zoom][data-live]")) {
      const address = new URL(window.location.href);
      if (zoom.dataset.part) address.searchParams.set("part", zoom.dataset.part);
      draw(zoom, address);
    }
  }, LIVE_MS);

  function take(zoom, fresh, address) {
    const hadFocus = zoom.contains(document.activeElement);
    zoom.dataset.part = address.searchParams.get("part") || "";
    zoom.dataset.last = fresh.dataset.last;
    zoom.replaceChildren(...fresh.childNodes);
    if (hadFocus) zoom.focus({ preventScroll: true });
    document.dispatchEvent(new Event("chart:drawn"));
  }

  function zoomBy(zoom, factor, around) {
    const { from, to } = shown(zoom);
    const at = around ?? (from + to) / 2;
    show(zoom, at - (at - from) * factor, at + (to - at) * factor);
  }

  function moveBy(zoom, share) {
    const { from, to } = shown(zoom);
    const by = (to - from) * share;
    show(zoom, from + by, to + by);
  }

  document.addEventListener("keydown", (event) => {
    const zoom = event.target;
    if (!zoom.matches?.("[data-chart-zoom]") || !plotOf(zoom)) return;
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    const act = {
      "+": () => zoomBy(zoom, CLOSER),
      "=": () => zoomBy(zoom, CLOSER),
      "-": () => zoomBy(zoom, 1 / CLOSER),
      0: () => show(zoom, 0, Number(zoom.dataset.last)),
      ArrowLeft: () => moveBy(zoom, -ALONG),
      ArrowRight: () => moveBy(zoom, ALONG),
    }[event.key];
    if (!act) return;
    event.preventDefault();
    act();
  });

  document.addEventListener(
    "wheel",
    (event) => {
      const zoom = event.target.closest?.("[data-chart-zoom]");
      // Without Ctrl the wheel scrolls the page, as usual.
      if (!zoom || !event.ctrlKey || !plotOf(zoom)) return;
      event.preventDefault();
      const factor = event.deltaY < 0 ? CLOSER : 1 / CLOSER;
      zoomBy(zoom, factor, momentAt(zoom, event.clientX));
    },
    { passive: false },
  );

  const fingers = new Map();
  let pinch = null;

  function ends() {
    const [one, other] = [...fingers.values()];
    return { apart: Math.abs(one - other), middle: (one + other) / 2 };
  }

  document.addEventListener("pointerdown", (event) => {
    const zoom = event.target.closest?.("[data-chart-zoom]");
    if (!zoom || event.pointerType !== "touch") return;
    fingers.set(event.pointerId, event.clientX);
    if (fingers.size !== 2) return;
    const { apart, middle } = ends();
    pinch = { zoom, apart: Math.max(apart, 20), at: momentAt(zoom, middle), ...shown(zoom) };
  });

  document.addEventListener("pointermove", (event) => {
    if (!fingers.has(event.pointerId)) return;
    fingers.set(event.pointerId, event.clientX);
    if (!pinch || fingers.size !== 2) return;
    const factor = pinch.apart / Math.max(ends().apart, 20);
    const { zoom, at, from, to } = pinch;
    show(zoom, at - (at - from) * factor, at + (to - at) * factor);
  });

  function lift(event) {
    fingers.delete(event.pointerId);
    if (fingers.size < 2) pinch = null;
  }
  document.addEventListener("pointerup", lift);
  document.addEventListener("pointercancel", lift);

  document.addEventListener("click", (event) => {
    const link = event.target.closest?.("[data-chart-zoom] .chart-zooms a");
    if (!link || event.ctrlKey || event.metaKey || event.shiftKey) return;
    event.preventDefault();
    draw(link.closest("[data-chart-zoom]"), new URL(link.href));
  });
})();

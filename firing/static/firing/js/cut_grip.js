/* The power cut on the designer's chart: dragged by pointer or touch, moved by keys. The
   server computes each place it is at; the curve with the cut and its tension come back
   while one drags. Without this file the form's fields do the same. A schedule that is
   being computed anew is not kept. */
(() => {
  const HOUR_S = 3600;
  const STEP_H = 0.25;
  const KEY_H = 0.5;
  const FAR_H = 6;
  let held = null;
  let isAsking = false;
  let isAskedAgain = false;

  const gripOf = () => document.getElementById("cut-grip");
  const formOf = () => document.getElementById("designer-form");

  function plot() {
    const svg = [...document.querySelectorAll("#design-drawing [data-plot]")].find(
      (one) => one.getClientRects().length > 0,
    );
    if (!svg) return null;
    const box = svg.getBoundingClientRect();
    const scale = box.width / Number(svg.dataset.width);
    return {
      box,
      from: Number(svg.dataset.from) / HOUR_S,
      to: Number(svg.dataset.to) / HOUR_S,
      left: box.left + Number(svg.dataset.left) * scale,
      right: box.left + Number(svg.dataset.right) * scale,
      height: Number(svg.dataset.bottom) * scale,
    };
  }

  function hours(grip) {
    return Number(grip.getAttribute("aria-valuenow"));
  }

  // Where the grip is over the drawing; at its edge when the hour is not shown.
  function place() {
    const grip = gripOf();
    const drawn = plot();
    if (!grip || !drawn) return;
    grip.hidden = false;
    const stage = grip.parentElement.getBoundingClientRect();
    const share = (hours(grip) - drawn.from) / (drawn.to - drawn.from);
    const inside = Math.min(1, Math.max(0, share));
    const x = drawn.left + inside * (drawn.right - drawn.left) - stage.left;
    // On the stage: htmx copies the attributes of what has an id, and the page's policy
    // forbids a style that is set as one. Across as a share, so that a window made narrow
    // is never wider for a moment.
    const { style } = grip.parentElement;
    style.setProperty("--cut-x", `${(100 * x) / stage.width}%`);
    style.setProperty("--cut-top", `${drawn.box.top - stage.top}px`);
    style.setProperty("--cut-height", `${drawn.height}px`);
  }

  function moveTo(grip, wanted) {
    const last = Number(grip.getAttribute("aria-valuemax"));
    const rounded = Math.round(wanted / STEP_H) * STEP_H;
    const at = Math.min(last, Math.max(0, rounded));
    if (at === hours(grip) && grip.dataset.on) return;
    grip.setAttribute("aria-valuenow", String(at));
    grip.dataset.on = "1";
    document.getElementById("id_is_cut").checked = true;
    document.getElementById("id_cut_at_h").value = String(at);
    place();
    ask();
  }

  function address() {
    const form = formOf();
    const sent = new URLSearchParams(new FormData(form));
    const { part } = document.getElementById("design-drawing").dataset;
    if (part) sent.set("part", part);
    return { url: form.action, sent };
  }

  // One request at a time, and after it only the latest place.
  async function ask() {
    if (isAsking) {
      isAskedAgain = true;
      return;
    }
    isAsking = true;
    try {
      const { url, sent } = address();
      window.history.replaceState(window.history.state, "", `${url}?${sent}`);
      sent.set("only", "cut");
      const answer = await fetch(`${url}?${sent}`, { headers: { "HX-Request": "true" } });
      if (answer.ok) take(await answer.text());
    } finally {
      isAsking = false;
      if (isAskedAgain) {
        isAskedAgain = false;
        ask();
      }
    }
  }

  function take(html) {
    const fresh = document.createElement("template");
    fresh.innerHTML = html;
    if (!fresh.content.getElementById("design-drawing")) {
      // It is not computed yet, or not possible any more: the whole answer says which.
      window.htmx.trigger(formOf(), "submit");
      return;
    }
    for (const part of fresh.content.querySelectorAll("[data-fresh]")) {
      // In place, so that their listeners stay.
      document.getElementById(part.id)?.replaceChildren(...part.childNodes);
    }
    const drawing = fresh.content.getElementById("design-drawing");
    document.getElementById("design-drawing").dataset.last = drawing.dataset.last;
    gripOf()?.setAttribute(
      "aria-valuetext",
      document.getElementById("cut-words").textContent.trim(),
    );
    place();
  }

  function hourAt(clientX) {
    const { from, to, left, right } = plot();
    const share = Math.min(1, Math.max(0, (clientX - left) / (right - left)));
    return from + share * (to - from);
  }

  document.addEventListener("pointerdown", (event) => {
    const grip = event.target.closest?.("#cut-grip");
    if (!grip || event.button !== 0) return;
    event.preventDefault();
    grip.focus({ preventScroll: true });
    grip.setPointerCapture(event.pointerId);
    held = event.pointerId;
  });

  document.addEventListener("pointermove", (event) => {
    if (held !== event.pointerId) return;
    moveTo(gripOf(), hourAt(event.clientX));
  });

  function letGo(event) {
    if (held === event.pointerId) held = null;
  }
  document.addEventListener("pointerup", letGo);
  document.addEventListener("pointercancel", letGo);

  document.addEventListener("keydown", (event) => {
    const grip = event.target.closest?.("#cut-grip");
    if (!grip || event.ctrlKey || event.metaKey || event.altKey) return;
    const at = hours(grip);
    const wanted = {
      ArrowLeft: at - KEY_H,
      ArrowDown: at - KEY_H,
      ArrowRight: at + KEY_H,
      ArrowUp: at + KEY_H,
      PageDown: at - FAR_H,
      PageUp: at + FAR_H,
      Home: 0,
      End: Number(grip.getAttribute("aria-valuemax")),
    }[event.key];
    if (wanted === undefined) return;
    event.preventDefault();
    moveTo(grip, wanted);
  });

  // What is shown is no longer what is asked for: nobody keeps it by mistake. The answer
  // brings new buttons.
  document.addEventListener("input", (event) => {
    const keep = document.getElementById("design-keep");
    if (keep && event.target.form === formOf()) keep.disabled = true;
  });

  document.addEventListener("DOMContentLoaded", place);
  document.addEventListener("htmx:afterSettle", place);
  document.addEventListener("chart:drawn", place);
  window.addEventListener("resize", place);
})();

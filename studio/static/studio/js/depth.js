/* The depth view: the strip from the edge chooses the layer in front, and the pointer
   moves the eye. Distances come from the server; without this file the pictures lie
   over each other as they are. */
(() => {
  const STILL = matchMedia("(prefers-reduced-motion: reduce)");
  const all = (root, hook) => root.querySelectorAll(`[data-depth-${hook}]`);

  function show(view) {
    const slider = view.querySelector("[data-depth-slider]");
    const chosen = Number(slider.value);
    for (const part of [...all(view, "layer"), ...all(view, "band")]) {
      const number = Number(part.dataset.depthLayer ?? part.dataset.depthBand);
      part.toggleAttribute("data-passed", number > chosen);
    }
    const words = view.querySelector(`[data-depth-name="${chosen}"]`)?.textContent ?? "";
    slider.setAttribute("aria-valuetext", words);
    view.querySelector("[data-depth-words]").textContent = words;
    frame(view, chosen);
    const tile = document.querySelector(`[data-layer-tile="${chosen}"]`);
    const card = document.querySelector("[data-layer-card]");
    if (!tile || !card) return;
    const copy = tile.cloneNode(true);
    copy.removeAttribute("data-layer-tile");
    card.replaceChildren(copy);
  }

  // The handle frames the chosen band, and never gets too thin to be seen.
  function frame(view, number) {
    const rect = view.querySelector(`[data-depth-band="${number}"]`);
    const height = rect.ownerSVGElement.viewBox.baseVal.height;
    const handle = view.querySelector("[data-depth-handle]");
    handle.style.top = `${(100 * rect.y.baseVal.value) / height}%`;
    handle.style.height = `${(100 * rect.height.baseVal.value) / height}%`;
  }

  function step(view, by) {
    const slider = view.querySelector("[data-depth-slider]");
    if (!slider) return false;
    const before = slider.value;
    slider.value = Number(before) + by;
    if (slider.value !== before) show(view);
    return slider.value !== before;
  }

  // The eye, from -1 to 1 across and down; moved once per frame.
  function look(stage, across, down) {
    if (STILL.matches) return;
    stage.eye = [across, down];
    stage.frame ??= requestAnimationFrame(() => {
      stage.frame = undefined;
      const [x, y] = stage.eye;
      const width = stage.clientWidth;
      for (const layer of all(stage, "layer")) {
        const reach = (Number(layer.dataset.shift) / 100) * width;
        layer.style.transform = `translate(${(x * reach).toFixed(1)}px, ${(y * reach).toFixed(1)}px)`;
      }
    });
  }

  document.addEventListener("input", (event) => {
    if (event.target.matches("[data-depth-slider]")) {
      show(event.target.closest("[data-depth]"));
    }
  });

  document.addEventListener("pointermove", (event) => {
    const stage = event.target.closest?.("[data-depth-stage]");
    if (!stage) return;
    const box = stage.getBoundingClientRect();
    look(
      stage,
      1 - (2 * (event.clientX - box.left)) / box.width,
      1 - (2 * (event.clientY - box.top)) / box.height,
    );
  });

  document.addEventListener(
    "pointerleave",
    (event) => {
      if (event.target.matches?.("[data-depth-stage]")) look(event.target, 0, 0);
    },
    true,
  );

  // Only over a view whose strip was touched or focused: else the page scrolls as usual.
  document.addEventListener(
    "wheel",
    (event) => {
      const view = event.target.closest?.("[data-depth]");
      if (!view?.contains(document.activeElement)) return;
      if (step(view, event.deltaY > 0 ? -1 : 1)) event.preventDefault();
    },
    { passive: false },
  );

  // The whole strip is the target: a finger gets the band that is nearest to it.
  function choose(strip, y) {
    const view = strip.closest("[data-depth]");
    const from = (band) => {
      const box = band.getBoundingClientRect();
      return Math.max(box.top - y, y - box.bottom);
    };
    const bands = [...all(view, "band")];
    const nearest = bands.reduce((one, other) => (from(other) < from(one) ? other : one));
    const slider = view.querySelector("[data-depth-slider]");
    slider.value = nearest.dataset.depthBand;
    show(view);
  }
  document.addEventListener("pointerdown", (event) => {
    const strip = event.target.closest?.("[data-depth-strip]");
    const slider = strip?.querySelector("[data-depth-slider]");
    if (!slider || event.button !== 0) return;
    event.preventDefault();
    slider.focus({ preventScroll: true });
    strip.setPointerCapture(event.pointerId);
    choose(strip, event.clientY);
  });
  document.addEventListener("pointermove", (event) => {
    const strip = event.target.closest?.("[data-depth-strip]");
    if (strip?.hasPointerCapture(event.pointerId)) choose(strip, event.clientY);
  });

  // Dragging over the picture, as over the strip, goes through the layers.
  let drag = null;
  document.addEventListener("pointerdown", (event) => {
    const view = event.target.closest?.("[data-depth-stage]")?.closest("[data-depth]");
    if (!view?.querySelector("[data-depth-slider]") || event.button !== 0) return;
    drag = { view, x: event.clientX, id: event.pointerId };
    view.querySelector("[data-depth-slider]").focus({ preventScroll: true });
  });
  document.addEventListener("pointermove", (event) => {
    if (drag?.id !== event.pointerId) return;
    const steps = Math.trunc((event.clientX - drag.x) / 16);
    if (!steps) return;
    drag.x += steps * 16;
    step(drag.view, steps);
  });
  for (const end of ["pointerup", "pointercancel"]) {
    document.addEventListener(end, () => {
      drag = null;
    });
  }

  // A picture that cannot be read leaves its layer's edge.
  function leaveEdge(picture) {
    const edge = document.createElement("span");
    edge.className = "depth-layer depth-edge";
    Object.assign(edge.dataset, picture.dataset);
    picture.replaceWith(edge);
  }
  document.addEventListener(
    "error",
    (event) => {
      if (event.target.matches?.("img[data-depth-layer]")) leaveEdge(event.target);
    },
    true,
  );

  for (const view of document.querySelectorAll("[data-depth]")) {
    const slider = view.querySelector("[data-depth-slider]");
    if (slider) {
      const name = view.querySelector(`[data-depth-name="${slider.value}"]`);
      slider.setAttribute("aria-valuetext", name?.textContent ?? "");
      frame(view, slider.value);
    }
    for (const picture of view.querySelectorAll("img[data-depth-layer]")) {
      if (picture.complete && !picture.naturalWidth) leaveEdge(picture);
    }
  }
})();

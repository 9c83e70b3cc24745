/* Moves bookings on the kiln ribbon: by dragging, or by keys on a focused one. The server
   judges every place; this file draws, asks at most a few times a second, and reads the
   answer out. A booking that may move carries data-move (the address that judges it) and
   data-starts; without this file each booking's page has "Move". */
(() => {
  const HOUR_S = 3600;
  const DAY_S = 86400;
  const GRID_S = 900;
  const BEGINS_AT_PX = 6;
  const ASK_EVERY_MS = 150;
  const LOST = {
    words: "The studio's computer does not answer. The booking is where it was.",
  };
  const SVG = "http://www.w3.org/2000/svg";

  let move = null; // the booking that is being moved
  let pressed = null; // where a pointer went down on one, before it counts as a drag
  let justDragged = false;

  const panel = () => document.querySelector("[data-move-panel]");

  function say(told, undo) {
    const where = panel();
    if (!where) return;
    where.querySelector("[data-move-place]").textContent = told.place ?? "";
    where.querySelector("[data-move-words]").textContent = told.words;
    const button = where.querySelector("[data-move-undo]");
    button.hidden = !undo;
    button.undo = undo;
  }

  function token() {
    return JSON.parse(document.body.getAttribute("hx-headers"))["X-CSRFToken"];
  }

  // Seconds that a zone is ahead of UTC at an instant: days are local to the studio.
  function offset(instant) {
    const zone = panel()?.dataset.zone;
    const parts = new Intl.DateTimeFormat("en-US", {
      timeZone: zone,
      timeZoneName: "longOffset",
    }).formatToParts(new Date(instant * 1000));
    const name = parts.find((part) => part.type === "timeZoneName").value;
    const found = /([+-])(\d\d):(\d\d)/.exec(name);
    if (!found) return 0;
    const ahead = Number(found[2]) * HOUR_S + Number(found[3]) * 60;
    return found[1] === "-" ? -ahead : ahead;
  }

  function begin(shape, byKey) {
    const ribbon = shape.closest("[data-ribbon]");
    const row = shape.closest("[data-kiln]");
    move = {
      shape,
      ribbon,
      byKey,
      url: shape.dataset.move,
      home: { starts: Number(shape.dataset.starts), row },
      starts: Number(shape.dataset.starts),
      row,
      perPixel: Number(ribbon.dataset.secondsPerPixel),
      left: Number(ribbon.dataset.starts),
      width: Number(ribbon.dataset.width),
      isAsking: false,
      isStale: false,
      mark: null,
    };
    shape.classList.add("ribbon-moving");
    row.classList.add("ribbon-row-moving");
  }

  function place(starts, row) {
    const last = move.left + move.width * move.perPixel - HOUR_S;
    move.starts = Math.min(Math.max(starts, move.left), last);
    move.row = row;
    const x = (move.starts - move.home.starts) / move.perPixel;
    const y = row.offsetTop - move.home.row.offsetTop;
    move.shape.setAttribute("transform", `translate(${x.toFixed(2)} ${y})`);
    ask();
  }

  async function ask() {
    const mine = move;
    if (mine.isAsking) {
      mine.isStale = true;
      return;
    }
    mine.isAsking = true;
    mine.isStale = false;
    const asked = new URLSearchParams({
      kiln: mine.row.dataset.kiln,
      starts: String(Math.round(mine.starts)),
    });
    try {
      const answer = await fetch(`${mine.url}?${asked}`, {
        headers: { Accept: "application/json" },
      });
      const verdict = await answer.json();
      if (move === mine && !mine.isTaking) show(verdict);
    } catch {
      if (move === mine && !mine.isTaking) say(LOST);
    }
    setTimeout(() => {
      mine.isAsking = false;
      if (mine.isStale && move === mine && !mine.isTaking) ask();
    }, ASK_EVERY_MS);
  }

  function show(verdict) {
    move.shape.classList.toggle("ribbon-refused", !verdict.permitted);
    unmark();
    if (!verdict.permitted && verdict.snap !== null && verdict.snap !== undefined) {
      const svg = move.row.querySelector("svg");
      const x = (verdict.snap - move.left) / move.perPixel;
      move.mark = document.createElementNS(SVG, "path");
      move.mark.setAttribute("class", "ribbon-nearest");
      move.mark.setAttribute("d", `M${x},30 V100 m-5,-6 l5,6 l5,-6`);
      svg.append(move.mark);
    }
    say(verdict);
  }

  function unmark() {
    move.mark?.remove();
    move.mark = null;
  }

  function end() {
    unmark();
    move.shape.classList.remove("ribbon-moving", "ribbon-refused");
    move.home.row.classList.remove("ribbon-row-moving");
    move.shape.removeAttribute("transform");
    move = null;
  }

  function putBack(told) {
    end();
    say(told ?? { words: "It is where it was." });
  }

  async function send(url, kiln, starts) {
    const answer = await fetch(url, {
      method: "POST",
      headers: { "X-CSRFToken": token(), Accept: "application/json" },
      body: new URLSearchParams({ kiln, starts: String(Math.round(starts)) }),
    });
    return { isMoved: answer.ok, ...(await answer.json()) };
  }

  async function take() {
    const mine = move;
    if (mine.isTaking) return;
    if (mine.starts === mine.home.starts && mine.row === mine.home.row) {
      putBack();
      return;
    }
    mine.isTaking = true;
    const hadFocus = document.activeElement === mine.shape;
    let told;
    try {
      told = await send(mine.url, mine.row.dataset.kiln, mine.starts);
    } catch {
      told = { isMoved: false, ...LOST };
    }
    if (!told.isMoved) {
      putBack(told);
      return;
    }
    const back = { url: mine.url, kiln: mine.home.row.dataset.kiln, starts: mine.home.starts };
    await redraw(mine.url, hadFocus || mine.byKey);
    say(told, back);
  }

  // The server sends a new ribbon; the moved booking keeps the keyboard's focus.
  async function redraw(url, focus) {
    if (move) move.isTaking = true;
    await htmx.ajax("GET", location.href, { target: "#days", swap: "outerHTML" });
    move = null;
    if (!focus) return;
    for (const shape of document.querySelectorAll(`[data-move="${url}"]`)) {
      if (shape.getClientRects().length) shape.focus();
    }
  }

  function rowAt(ribbon, y) {
    const rows = [...ribbon.querySelectorAll("[data-kiln]")];
    return rows.find((row) => {
      const box = row.getBoundingClientRect();
      return y >= box.top && y < box.bottom;
    });
  }

  document.addEventListener("dragstart", (event) => {
    if (event.target.closest?.("[data-move]")) event.preventDefault();
  });

  document.addEventListener("pointerdown", (event) => {
    justDragged = false;
    const shape = event.target.closest?.("[data-move]");
    if (!shape || event.button !== 0 || move) return;
    pressed = { shape, id: event.pointerId, x: event.clientX, y: event.clientY };
  });

  document.addEventListener("pointermove", (event) => {
    if (pressed && event.pointerId === pressed.id && !move) {
      const x = Math.abs(event.clientX - pressed.x);
      const y = Math.abs(event.clientY - pressed.y);
      if (Math.hypot(x, y) < BEGINS_AT_PX) return;
      if (event.pointerType === "touch" && y >= x) {
        pressed = null;
        return;
      }
      begin(pressed.shape, false);
      pressed.shape.setPointerCapture?.(event.pointerId);
    }
    if (!move || move.byKey || !pressed || move.isTaking) return;
    const by = (event.clientX - pressed.x) * move.perPixel;
    const starts = Math.round((move.home.starts + by) / GRID_S) * GRID_S;
    place(starts, rowAt(move.ribbon, event.clientY) ?? move.row);
  });

  // A finger that goes sideways on a booking moves it; any other pans the page. Shapes
  // inside an SVG cannot say that themselves, so the ribbon keeps the browser from panning.
  function keepFromPanning(event) {
    if (move && !move.byKey) {
      event.preventDefault();
      return;
    }
    const finger = event.touches.length === 1 && event.touches[0];
    if (!pressed || !finger) return;
    const x = Math.abs(finger.clientX - pressed.x);
    const y = Math.abs(finger.clientY - pressed.y);
    if (x > y) event.preventDefault();
  }

  function watchFingers(root) {
    for (const ribbon of root.querySelectorAll("[data-ribbon]")) {
      ribbon.addEventListener("touchmove", keepFromPanning, { passive: false });
    }
  }

  document.addEventListener("DOMContentLoaded", () => watchFingers(document));
  document.addEventListener("htmx:afterSwap", () => watchFingers(document));

  document.addEventListener("pointerup", (event) => {
    if (!pressed || event.pointerId !== pressed.id) return;
    pressed = null;
    if (!move || move.byKey) return;
    justDragged = true;
    take();
  });

  document.addEventListener("pointercancel", () => {
    pressed = null;
    if (move && !move.byKey && !move.isTaking) putBack();
  });

  // The click that ends a drag does not follow the link; one on a planned firing shows
  // it under the ribbon, where it is confirmed.
  document.addEventListener(
    "click",
    (event) => {
      const link = event.target.closest?.("[data-move], [data-card]");
      if (!link) return;
      if (justDragged) {
        justDragged = false;
        event.preventDefault();
        event.stopPropagation();
      } else if (link.matches("[data-card]") && document.getElementById("chosen")) {
        if (event.ctrlKey || event.metaKey || event.shiftKey) return;
        event.preventDefault();
        showCard(link.getAttribute("href"));
      }
    },
    true,
  );

  async function showCard(address) {
    await htmx.ajax("GET", address, { target: "#chosen", swap: "innerHTML" });
    const heading = document.querySelector("#chosen h2");
    heading?.focus({ preventScroll: true });
    heading?.scrollIntoView({ block: "nearest" });
  }

  function step(event) {
    if (event.altKey || event.ctrlKey || event.metaKey) return null;
    const forward = { ArrowLeft: -1, ArrowRight: 1 }[event.key];
    if (!forward) return null;
    return (starts) => {
      if (!event.shiftKey) return starts + forward * HOUR_S;
      const day = starts + forward * DAY_S;
      return day + offset(starts) - offset(day);
    };
  }

  function otherRow(event) {
    const by = { ArrowUp: -1, ArrowDown: 1 }[event.key];
    if (!by || event.altKey || event.ctrlKey || event.metaKey) return null;
    const from = move?.row ?? event.target.closest("[data-kiln]");
    const rows = [...from.closest("[data-ribbon]").querySelectorAll("[data-kiln]")];
    return rows[rows.indexOf(from) + by] ?? null;
  }

  document.addEventListener("keydown", (event) => {
    if (move && event.key === "Escape" && !move.isTaking) {
      event.preventDefault();
      // The button is still down: its click must not open the booking either.
      justDragged = pressed !== null;
      pressed = null;
      putBack();
      return;
    }
    const shape = event.target.closest?.("[data-move]");
    if (!shape || move?.isTaking || (move && !move.byKey)) return;
    if (event.key === "Enter" && move) {
      event.preventDefault();
      take();
      return;
    }
    const shifted = step(event);
    const row = shifted ? null : otherRow(event);
    if (!shifted && !row) return;
    event.preventDefault();
    if (!move) begin(shape, true);
    place(shifted ? shifted(move.starts) : move.starts, row ?? move.row);
  });

  document.addEventListener("focusout", (event) => {
    if (move?.byKey && event.target === move.shape && !move.isTaking) putBack();
  });

  document.addEventListener("click", async (event) => {
    const button = event.target.closest?.("[data-move-undo]");
    const undo = button?.undo;
    if (!undo) return;
    button.undo = null;
    try {
      const told = await send(undo.url, undo.kiln, undo.starts);
      if (told.isMoved) await redraw(undo.url, true);
      say(told);
    } catch {
      say(LOST);
    }
  });
})();

/* Shots taken at the bench. A shot ticks its tile and is shown there at once; it waits in
   this browser's own database until the server has it, so that neither a dropped line nor
   another page loses it. Each has a key, by which the server keeps it once however often
   it is sent. Where the browser keeps no database, the shot goes with the form. */
(() => {
  const AGAIN_MS = 15000;
  const LONGEST_MS = 180000;
  const studio = document.body.dataset.studio;
  const token = JSON.parse(document.body.getAttribute("hx-headers"))["X-CSRFToken"];
  const tray = document.createElement("div");
  tray.className = "shots-tray";
  tray.setAttribute("role", "status");

  const kept = new Promise((resolve, reject) => {
    const opening = indexedDB.open("slowcool-shots", 1);
    opening.onupgradeneeded = () =>
      opening.result.createObjectStore("shots", { keyPath: "key" });
    opening.onsuccess = () => resolve(opening.result);
    opening.onerror = () => reject(opening.error);
  });
  // Told where it is asked; a browser without one need not complain on every page.
  kept.catch(() => undefined);

  async function inStore(mode, act) {
    const store = (await kept).transaction("shots", mode).objectStore("shots");
    return new Promise((resolve, reject) => {
      const asked = act(store);
      store.transaction.oncomplete = () => resolve(asked.result);
      store.transaction.onabort = () => reject(store.transaction.error);
    });
  }

  async function waiting() {
    const all = await inStore("readonly", (store) => store.getAll());
    return all.filter((one) => one.studio === studio).sort((a, b) => a.at - b.at);
  }

  // By hand: over plain HTTP in a studio's own network a browser has no randomUUID.
  function newKey() {
    const bytes = crypto.getRandomValues(new Uint8Array(16));
    return Array.from(bytes, (one) => one.toString(16).padStart(2, "0")).join("");
  }

  function tileOf(url) {
    return document.querySelector(`[data-shot="${CSS.escape(url)}"]`)?.closest("[data-tile]");
  }

  function show(tile, picture) {
    const image = document.createElement("img");
    image.alt = "The picture just taken";
    image.src = URL.createObjectURL(picture);
    image.onload = () => URL.revokeObjectURL(image.src);
    tile.querySelector("[data-tile-picture]").replaceChildren(image);
  }

  function tell(...parts) {
    const line = document.createElement("p");
    line.append(...parts);
    tray.replaceChildren(line);
  }

  function count(number) {
    return number === 1 ? "1 picture" : `${number} pictures`;
  }

  // What the server will never take is given back: the phone may have no other copy.
  function giveBack(shot, why) {
    const link = document.createElement("a");
    link.href = URL.createObjectURL(shot.picture);
    link.download = shot.picture.name || "picture.jpg";
    link.textContent = "Save it on this device";
    const line = document.createElement("p");
    line.append(`A picture was not taken: ${why} `, link);
    const told = document.createElement("div");
    told.className = "message message-error";
    told.setAttribute("role", "alert");
    told.append(line);
    document.getElementById("content").prepend(told);
  }

  async function post(shot) {
    const body = new FormData();
    body.append("shot", shot.key);
    body.append("picture", shot.picture, shot.picture.name);
    return fetch(shot.url, {
      method: "POST",
      body,
      headers: { "X-CSRFToken": token },
      redirect: "manual",
      signal: AbortSignal.timeout(LONGEST_MS),
    });
  }

  // Why sending stopped, in words; empty once nothing waits.
  async function sendAll() {
    for (;;) {
      const all = await waiting();
      if (!all.length) return "";
      const [shot] = all;
      tell(`Sending ${count(all.length)}…`);
      let answer;
      try {
        answer = await post(shot);
      } catch {
        return `${count(all.length)} will be sent once the connection is back.`;
      }
      if (answer.type === "opaqueredirect") {
        return `Sign in to send ${count(all.length)}.`;
      }
      if (!answer.ok && ![404, 409, 413, 422].includes(answer.status)) {
        return `${count(all.length)} not sent yet. Trying again.`;
      }
      if (!answer.ok) {
        const isText = answer.headers.get("Content-Type")?.startsWith("text/plain");
        giveBack(shot, isText ? await answer.text() : "what it shows is gone.");
      }
      await inStore("readwrite", (store) => store.delete(shot.key));
    }
  }

  let sending = false;
  let again;
  async function send() {
    if (sending) return;
    sending = true;
    clearTimeout(again);
    try {
      const why = await sendAll();
      if (why) {
        tell(why);
        again = setTimeout(send, AGAIN_MS);
      } else tray.replaceChildren();
    } finally {
      sending = false;
    }
  }

  document.addEventListener("change", async (event) => {
    const input = event.target;
    const picture = input.dataset?.shot && input.files[0];
    if (!picture) return;
    const tile = input.closest("[data-tile]");
    const box = tile.querySelector('input[type="checkbox"]');
    if (box) box.checked = true;
    show(tile, picture);
    try {
      const shot = { key: newKey(), studio, url: input.dataset.shot, picture, at: Date.now() };
      await inStore("readwrite", (store) => store.put(shot));
    } catch {
      tell("The picture goes with the form.");
      return;
    }
    input.value = "";
    send();
  });

  window.addEventListener("online", send);

  document.addEventListener("DOMContentLoaded", async () => {
    document.body.append(tray);
    let left;
    try {
      left = await waiting();
    } catch {
      return; // No database, so nothing waits in it.
    }
    for (const shot of left) {
      const tile = tileOf(shot.url);
      if (tile) show(tile, shot.picture);
    }
    if (left.length) send();
  });
})();

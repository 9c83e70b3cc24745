/* The records that wait for a connection: shown above the page, sent when there is one,
   deleted when their person says so. Forms that may wait have data-offline, which says what
   they record. The service worker keeps and sends them (offline_worker.js). */
(() => {
  if (!("serviceWorker" in navigator)) return;
  const { who } = document.body.dataset;
  const box = document.createElement("section");
  box.className = "waiting-records";
  box.setAttribute("aria-label", "Records on this device");

  function inRecords(mode, act) {
    return new Promise((resolve, reject) => {
      const opening = indexedDB.open("slowcool-records", 1);
      opening.onupgradeneeded = () =>
        opening.result.createObjectStore("records", { keyPath: "id", autoIncrement: true });
      opening.onerror = () => reject(opening.error);
      opening.onsuccess = () => {
        const database = opening.result;
        const transaction = database.transaction("records", mode);
        const asked = act(transaction.objectStore("records"));
        transaction.oncomplete = () => {
          database.close();
          resolve(asked.result);
        };
        transaction.onabort = () => {
          database.close();
          reject(transaction.error);
        };
      };
    });
  }

  async function own() {
    const all = await inRecords("readonly", (records) => records.getAll());
    return all.filter((record) => record.who === who);
  }

  async function tellWorker(told) {
    (await navigator.serviceWorker.ready).active.postMessage(told);
  }

  // Of the page that refused it, the words that say why.
  function reason(record) {
    const kept = new DOMParser().parseFromString(record.answer || "", "text/html");
    const told = kept.querySelectorAll("[data-error-summary] li, .field-error, .message-error");
    const words = Array.from(told, (one) => one.textContent.trim()).join(" ");
    return words || kept.querySelector("main")?.textContent.trim() || record.answer;
  }

  function heading(all) {
    const waiting = all.filter((record) => record.state !== "refused").length;
    const refused = all.length - waiting;
    const parts = [];
    const many = (count) => (count === 1 ? "1 record" : `${count} records`);
    if (waiting) {
      const isOut = all.some((record) => record.state === "signed-out");
      const isHeld = all.some((record) => record.state === "held");
      const verb = waiting === 1 ? "waits" : "wait";
      const what = isHeld
        ? "until the server can save again"
        : "for the connection";
      parts.push(
        isOut && navigator.onLine
          ? `Sign in to send ${many(waiting)}`
          : `${many(waiting)} ${verb} ${what}`,
      );
    }
    if (refused) parts.push(`${many(refused)} could not be saved`);
    return parts.join(", ");
  }

  // Words that nobody should have to find again.
  function quoted(text) {
    const words = document.createElement("q");
    words.textContent = text;
    return words;
  }

  function line(record) {
    const item = document.createElement("li");
    const at = new Date(record.at).toLocaleString([], { dateStyle: "medium", timeStyle: "short" });
    const what = document.createElement("span");
    what.textContent = `${record.what}, ${at}`;
    item.append(what);
    if (record.state === "refused") {
      const why = document.createElement("strong");
      why.textContent = `Not saved: ${reason(record)}`;
      const again = document.createElement("a");
      again.href = record.back;
      again.textContent = "Go to the page";
      const typed = record.fields.filter(([name, value]) => name.endsWith("note") && value);
      item.append(why, ...typed.map(([, value]) => quoted(value)), again);
    }
    const remove = document.createElement("button");
    remove.type = "button";
    remove.className = "button button-quiet";
    remove.textContent = record.state === "refused" ? "Dismiss" : "Delete";
    remove.setAttribute("aria-label", `${remove.textContent}: ${what.textContent}`);
    remove.addEventListener("click", async () => {
      await inRecords("readwrite", (records) => records.delete(record.id));
      await show();
    });
    item.append(remove);
    return item;
  }

  // A connection may be back before it carries anything, and the server after it.
  const AGAIN_MS = 5000;
  let asking;
  function askAgain(all) {
    clearTimeout(asking);
    if (!all.some((record) => ["waiting", "held"].includes(record.state))) return;
    asking = setTimeout(() => {
      if (navigator.onLine) tellWorker({ send: true });
      else askAgain(all);
    }, AGAIN_MS);
  }

  let drawn = "";
  async function show() {
    const all = await own();
    askAgain(all);
    const state = JSON.stringify(all.map((record) => [record.id, record.state]));
    if (state === drawn) return;
    drawn = state;
    box.hidden = !all.length;
    const wasOpen = box.querySelector("details")?.open;
    const fold = document.createElement("details");
    fold.open = wasOpen || all.some((record) => record.state === "refused");
    const summary = document.createElement("summary");
    summary.setAttribute("role", "status");
    summary.textContent = heading(all);
    const list = document.createElement("ul");
    list.append(...all.map(line));
    fold.append(summary, list);
    box.replaceChildren(fold);
  }

  function newKey() {
    const bytes = crypto.getRandomValues(new Uint8Array(16));
    return Array.from(bytes, (one) => one.toString(16).padStart(2, "0")).join("");
  }

  function set(form, name, value) {
    let field = form.querySelector(`input[name="${name}"]`);
    if (!field) {
      field = document.createElement("input");
      field.type = "hidden";
      field.name = name;
      form.append(field);
    }
    field.value = value;
  }

  function whatOf(form) {
    const ticked = form.querySelectorAll("[data-tile] input[type=checkbox]:checked");
    const names = Array.from(ticked, (box) => box.closest("label").querySelector("strong"));
    const said = names.filter(Boolean).map((one) => one.textContent);
    return [form.dataset.offline, said.join(", ")].filter(Boolean).join(": ");
  }

  function say(text) {
    const told = document.createElement("p");
    told.className = "message message-error";
    told.id = "not-kept";
    told.setAttribute("role", "alert");
    told.textContent = text;
    document.getElementById("not-kept")?.remove();
    document.getElementById("content").prepend(told);
    told.scrollIntoView({ block: "nearest" });
  }

  // Without a connection a page that goes away could not come back if there is no room.
  async function keep(form, submitter) {
    const answer = await fetch(form.action, {
      method: "POST",
      body: new FormData(form, submitter),
      headers: { "HX-Request": "true" },
    });
    delete form.dataset.sent;
    if (answer.ok) window.location = answer.headers.get("HX-Redirect") || answer.url;
    else say(await answer.text());
  }

  document.addEventListener(
    "submit",
    (event) => {
      const form = event.target;
      if (!("offline" in form.dataset) || "sent" in form.dataset) return;
      set(form, "once", newKey());
      set(form, "once_who", who);
      set(form, "once_what", whatOf(form));
      const isPlain = !form.hasAttribute("hx-post");
      if (isPlain && !navigator.onLine && navigator.serviceWorker.controller) {
        event.preventDefault();
        keep(form, event.submitter).catch(() => say("No connection. Try again."));
      }
    },
    true,
  );

  // Nobody else finds on this device what was typed here.
  let isCleared = false;
  document.addEventListener("submit", async (event) => {
    const form = event.target;
    if (!("signOut" in form.dataset) || isCleared) return;
    event.preventDefault();
    const left = await own().catch(() => []);
    const many = left.length === 1 ? "1 record was" : `${left.length} records were`;
    if (left.length && !window.confirm(`${many} not sent. Delete and sign out?`)) return;
    for (const record of left) {
      await inRecords("readwrite", (records) => records.delete(record.id));
    }
    isCleared = true;
    form.submit();
  });

  navigator.serviceWorker.addEventListener("message", (event) => {
    if (event.data === "records") show();
  });
  window.addEventListener("online", () => tellWorker({ send: true }));

  document.addEventListener("DOMContentLoaded", async () => {
    document.getElementById("content").before(box);
    await show();
    // What today is likely to need, before the connection goes.
    const links = document.querySelectorAll(".today-item a[href]");
    const keep = window.location.pathname === "/" ? Array.from(links, (link) => link.href) : [];
    // The page that is open was fetched before there was a worker, the first time.
    if (!navigator.serviceWorker.controller) keep.push(window.location.href);
    await tellWorker({ send: true, keep: [...new Set(keep)].slice(0, 12) });
  });
})();

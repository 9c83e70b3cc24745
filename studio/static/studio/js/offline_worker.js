/* Part of the service worker: the bench without a connection. Pages that were seen are kept
   as long as their person is signed in; a record that finds no connection waits in the
   browser's own database and is sent once, in order, when there is one again. */
const AWAY = "/offline/";
const TOKEN = "/offline/token/";
const MOST_PAGES = 80;
const BENCH = /^\/($|pieces\/|firings\/|kilns\/)/;
const CHANGES_PERSON = ["/sign-in/", "/sign-in/code/", "/sign-out/", "/settings/switch/"];
const NOT_KEPT =
  "No connection, and this device has no room left to keep the record. " +
  "What you typed is still here. Free some space, or send it when the connection is back.";

self.addEventListener("install", (event) => {
  self.skipWaiting();
  // As nobody: it is everybody's.
  event.waitUntil(caches.open("parts").then((parts) => parts.add(new Request(AWAY, { credentials: "omit" }))));
});

self.addEventListener("activate", (event) => event.waitUntil(self.clients.claim()));

// The records that wait.

function opened() {
  return new Promise((resolve, reject) => {
    const opening = indexedDB.open("slowcool-records", 1);
    opening.onupgradeneeded = () =>
      opening.result.createObjectStore("records", { keyPath: "id", autoIncrement: true });
    opening.onsuccess = () => resolve(opening.result);
    opening.onerror = () => reject(opening.error);
  });
}

async function inRecords(mode, act) {
  const database = await opened();
  try {
    const transaction = database.transaction("records", mode);
    const asked = act(transaction.objectStore("records"));
    return await new Promise((resolve, reject) => {
      transaction.oncomplete = () => resolve(asked.result);
      transaction.onabort = () => reject(transaction.error);
    });
  } finally {
    database.close();
  }
}

async function tellPages() {
  for (const page of await self.clients.matchAll()) page.postMessage("records");
}

// The pages. Those of one person in one studio are kept, and no other's beside them. A page
// that was asked for before the pages were forgotten may come late: it is not kept.
let timesForgotten = 0;

async function keepOnly(kept) {
  for (const name of await caches.keys()) {
    if (name.startsWith("pages-") && name !== kept) await caches.delete(name);
  }
}

function forgetPages() {
  timesForgotten += 1;
  return navigator.locks.request("pages", () => keepOnly());
}

async function keepPage(url, response, askedAt) {
  const who = /<body data-who="([\d-]+)"/.exec(await response.clone().text())?.[1];
  if (!who) return;
  await navigator.locks.request("pages", async () => {
    if (askedAt !== timesForgotten) return;
    const name = `pages-${who}`;
    await keepOnly(name);
    const pages = await caches.open(name);
    await pages.delete(url);
    await pages.put(url, response);
    const all = await pages.keys();
    for (const old of all.slice(0, Math.max(0, all.length - MOST_PAGES))) {
      await pages.delete(old);
    }
  });
}

async function page(event) {
  const { request } = event;
  const { pathname } = new URL(request.url);
  const askedAt = timesForgotten;
  try {
    const answer = await fetch(request);
    const isPage = answer.headers.get("Content-Type")?.startsWith("text/html");
    if (pathname === "/sign-in/") event.waitUntil(forgetPages());
    else if (answer.ok && isPage && BENCH.test(pathname)) {
      // A full device keeps fewer pages; the one that was asked for is there.
      event.waitUntil(keepPage(request.url, answer.clone(), askedAt).catch(() => forgetPages()));
    }
    return answer;
  } catch {
    return (await caches.match(request.url)) || (await caches.match(AWAY)) || Response.error();
  }
}

async function part(event) {
  const { request } = event;
  try {
    const answer = await fetch(request);
    if (answer.ok) {
      const copy = answer.clone();
      const kept = caches.open("parts").then((parts) => parts.put(request.url, copy));
      event.waitUntil(kept.catch(() => undefined)); // It is there without being kept.
    }
    return answer;
  } catch {
    return (await caches.match(request.url)) || Response.error();
  }
}

// Between the form that changes the person and its answer, a page is still the one before's.
async function changePerson(event) {
  await forgetPages();
  try {
    return await form(event);
  } finally {
    await forgetPages();
  }
}

// Sending. A form goes out at once; only when that finds no connection is it kept.

async function form(event) {
  const { request } = event;
  const copy = request.clone();
  try {
    return await fetch(request);
  } catch (problem) {
    const fields = await copy.formData().catch(() => new FormData());
    if (!fields.get("once")) {
      if (request.mode === "navigate") return (await caches.match(AWAY)) || Response.error();
      throw problem;
    }
    return keepRecord(request, [...fields]);
  }
}

async function keepRecord(request, fields) {
  const field = Object.fromEntries(fields);
  const record = {
    url: request.url,
    fields,
    who: field.once_who,
    what: field.once_what,
    back: request.referrer || "/",
    at: Date.now(),
    state: "waiting",
  };
  const isPage = request.mode === "navigate";
  try {
    await inRecords("readwrite", (records) => records.add(record));
  } catch {
    return new Response(NOT_KEPT, {
      status: 507,
      headers: { "Content-Type": "text/plain; charset=utf-8" },
    });
  }
  // Not everywhere; else it is sent from the next page that is open.
  self.registration.sync?.register("records").catch(() => undefined);
  await tellPages();
  if (isPage) return Response.redirect(record.back, 303);
  return new Response("", { headers: { "HX-Redirect": record.back } });
}

async function put(record) {
  await inRecords("readwrite", (records) => records.put(record));
}

// The answer to one record: its status, or none when it never came.
async function send(record, token) {
  const body = new FormData();
  for (const [name, value] of record.fields) {
    if (name !== "csrfmiddlewaretoken") body.append(name, value);
  }
  return fetch(record.url, {
    method: "POST",
    body,
    redirect: "manual",
    headers: {
      "X-CSRFToken": token,
      "X-Kept-For": String(Math.max(0, Math.round((Date.now() - record.at) / 1000))),
    },
  });
}

async function sendAll() {
  const all = await inRecords("readonly", (records) => records.getAll());
  const waiting = all.filter((record) => record.state !== "refused");
  if (!waiting.length) return;
  const asked = await fetch(TOKEN, { redirect: "manual" });
  if (asked.type === "opaqueredirect") {
    for (const record of waiting) await put({ ...record, state: "signed-out" });
    return;
  }
  if (!asked.ok) return;
  const { token, who } = await asked.json();
  for (const record of waiting.filter((one) => one.who === who)) {
    const answer = await send(record, token);
    if (answer.status === 204) {
      await inRecords("readwrite", (records) => records.delete(record.id));
    } else if ([400, 403, 404, 409, 413, 422].includes(answer.status)) {
      await put({ ...record, state: "refused", answer: await answer.text() });
    } else {
      // Out of order, or signed out meanwhile: it waits, and those after it.
      if (answer.status >= 400) await put({ ...record, state: "held" });
      return;
    }
    await tellPages();
  }
}

let sending;
function sendOnce() {
  sending ??= sendAll()
    .catch(() => undefined) // No connection: they wait on.
    .finally(() => {
      sending = undefined;
      return tellPages();
    });
  return sending;
}

self.addEventListener("sync", (event) => event.waitUntil(sendOnce()));

self.addEventListener("message", (event) => {
  const { send: isAsked, keep = [] } = event.data;
  if (isAsked) event.waitUntil(sendOnce());
  const askedAt = timesForgotten;
  for (const url of keep) {
    // A browser shows no kept answer that was redirected.
    const kept = fetch(url).then(
      (answer) => answer.ok && !answer.redirected && keepPage(url, answer, askedAt),
    );
    event.waitUntil(kept.catch(() => undefined)); // A page less without a connection.
  }
});

self.addEventListener("fetch", (event) => {
  const { request } = event;
  const { origin, pathname } = new URL(request.url);
  if (origin !== self.location.origin) return;
  const isPage = request.mode === "navigate";
  if (request.method === "GET") {
    if (isPage) event.respondWith(page(event));
    else if (pathname.startsWith("/static/")) event.respondWith(part(event));
  } else if (request.method === "POST" && (isPage || request.headers.has("HX-Request"))) {
    event.respondWith(CHANGES_PERSON.includes(pathname) ? changePerson(event) : form(event));
  }
});

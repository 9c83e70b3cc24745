/* Part of the service worker: shows a message that was pushed, and opens its page. */
self.addEventListener("push", (event) => {
  const told = event.data ? event.data.json() : { title: "Slowcool", text: "", path: "/" };
  event.waitUntil(
    self.registration.showNotification(told.title, {
      body: told.text,
      // The same message twice is shown once.
      tag: told.key,
      data: { path: told.path },
    }),
  );
});

self.addEventListener("notificationclick", (event) => {
  event.notification.close();
  const address = new URL(event.notification.data?.path || "/", self.location.origin);
  event.waitUntil(
    self.clients.matchAll({ type: "window" }).then((pages) => {
      const open = pages.find((page) => new URL(page.url).pathname === address.pathname);
      return open ? open.focus() : self.clients.openWindow(address.href);
    }),
  );
});

/* Registers the service worker that shows messages. */
if ("serviceWorker" in navigator) navigator.serviceWorker.register("/worker.js");

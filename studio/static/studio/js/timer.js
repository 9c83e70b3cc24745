/* Lets the running timer tick. The server says how long it ran; a phone's clock, which may
   be wrong, only counts on from there. Without this file the page's own number stays. */
(() => {
  const MINUTE_MS = 60_000;
  const shown = document.querySelector("[data-timer-minutes]");
  if (!shown) return;
  const first = Number(shown.dataset.timerMinutes);
  const loadedAt = Date.now();

  function tick() {
    const minutes = first + Math.floor((Date.now() - loadedAt) / MINUTE_MS);
    const hours = Math.floor(minutes / 60);
    const rest = minutes % 60;
    const words = hours ? [`${hours} h`] : [];
    if (rest || !hours) words.push(`${rest} min`);
    shown.textContent = words.join(" ");
  }

  setInterval(tick, 5000);
  // A phone that slept shows the right time as soon as it is looked at.
  document.addEventListener("visibilitychange", tick);
})();

/* The button that has this browser take messages. Hook: data-push-key on the button, with
   the address that takes the subscription in data-push-url and a place for words after it. */
(() => {
  const button = document.querySelector("[data-push-key]");
  if (!button) return;
  const words = document.getElementById("push-words");
  const say = (text) => {
    words.textContent = text;
  };

  if (!("serviceWorker" in navigator) || !("PushManager" in window)) {
    button.hidden = true;
    say(
      window.isSecureContext
        ? "This browser takes no messages. On an iPhone or iPad, add the page to the home screen first."
        : "Messages to phones need an address that begins with https.",
    );
    return;
  }

  function bytes(text) {
    const plain = atob(text.replace(/-/g, "+").replace(/_/g, "/"));
    return Uint8Array.from(plain, (letter) => letter.charCodeAt(0));
  }

  // What tells one's own phones apart.
  function nameOf(agent) {
    const found = (words) => words.find((word) => agent.includes(word));
    const browser = found(["Firefox", "Edg", "Chrome", "Safari"]) || "Browser";
    const system = found(["iPhone", "iPad", "Android", "Windows", "Mac", "Linux"]);
    return `${browser.replace("Edg", "Edge")} on ${system || "a phone"}`;
  }

  button.addEventListener("click", async () => {
    button.disabled = true;
    say("");
    try {
      if ((await Notification.requestPermission()) !== "granted") {
        say("This browser was told to show no messages from here. Allow them in its settings.");
        return;
      }
      await navigator.serviceWorker.register("/worker.js");
      const worker = await navigator.serviceWorker.ready;
      // One that is tied to another key, of an installation before, stands in the way.
      const before = await worker.pushManager.getSubscription();
      if (before) await before.unsubscribe();
      const asked = await worker.pushManager.subscribe({
        userVisibleOnly: true,
        applicationServerKey: bytes(button.dataset.pushKey),
      });
      const { endpoint, keys } = asked.toJSON();
      const form = new FormData();
      form.set("endpoint", endpoint);
      form.set("p256dh", keys.p256dh);
      form.set("auth", keys.auth);
      form.set("name", nameOf(navigator.userAgent));
      form.set("csrfmiddlewaretoken", button.form.elements.csrfmiddlewaretoken.value);
      const answer = await fetch(button.dataset.pushUrl, { method: "POST", body: form });
      if (answer.ok) window.location.reload();
      else say(await answer.text());
    } catch (problem) {
      say(`The browser's push service did not answer: ${problem.message}. Try again.`);
    } finally {
      button.disabled = false;
    }
  });
})();

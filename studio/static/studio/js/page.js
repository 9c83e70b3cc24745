/* Small habits of a page: menus close, swapped-in errors take the focus, a wide drawing
   opens where now is, a form goes out once however often its button is pressed. Hooks are
   data attributes; everything works without this file. */
(() => {
  function closeMenus(except) {
    for (const menu of document.querySelectorAll("details[data-menu][open]")) {
      if (menu !== except) menu.open = false;
    }
  }

  document.addEventListener("click", (event) => {
    closeMenus(event.target.closest("details[data-menu]"));
  });

  document.addEventListener("keydown", (event) => {
    if (event.key !== "Escape") return;
    const open = document.querySelector("details[data-menu][open]");
    if (!open) return;
    open.open = false;
    open.querySelector("summary").focus();
  });

  // A password may be looked at while it is typed; it is sent hidden, so that no browser
  // keeps it among the words of other fields.
  function show(button, isShown) {
    button.previousElementSibling.type = isShown ? "text" : "password";
    button.setAttribute("aria-pressed", String(isShown));
  }

  document.addEventListener("click", (event) => {
    const button = event.target.closest("button[data-show]");
    if (button) show(button, button.getAttribute("aria-pressed") === "false");
  });

  document.addEventListener("submit", (event) => {
    for (const button of event.target.querySelectorAll("button[data-show]")) {
      show(button, false);
    }
  });

  // Our own button stands in for the browser's; say what was chosen.
  document.addEventListener("change", (event) => {
    const told = event.target.closest(".file-pick")?.querySelector("[data-chosen]");
    if (!told) return;
    told.textContent = Array.from(event.target.files, (file) => file.name).join(", ");
  });

  document.addEventListener("click", (event) => {
    if (event.target.closest("button[data-print]")) window.print();
  });

  // A slow answer makes people press again. After this long the line may be dead.
  const SENT_FOR_MS = 8000;

  document.addEventListener("submit", (event) => {
    const form = event.target;
    // By attribute: a field may be called "method", and then the property is the field.
    if (event.defaultPrevented || form.getAttribute("method") !== "post") return;
    if ("sent" in form.dataset) {
      event.preventDefault();
      return;
    }
    form.dataset.sent = "";
    setTimeout(() => delete form.dataset.sent, SENT_FOR_MS);
  });

  // Back brings the page as it was left: its form may go out again.
  window.addEventListener("pageshow", () => {
    for (const form of document.querySelectorAll("form[data-sent]")) {
      delete form.dataset.sent;
    }
  });

  function settle(root) {
    for (const scroller of root.querySelectorAll("[data-scroll-to]")) {
      const x = Number(scroller.dataset.scrollTo);
      scroller.scrollLeft = Math.max(0, x - scroller.clientWidth * 0.2);
    }
    for (const button of root.querySelectorAll("button[data-show], button[data-print]")) {
      button.hidden = false;
    }
    const summary = root.querySelector("[data-error-summary]");
    // The style guide shows one without an error.
    if (summary && !summary.closest(".theme-sample")) summary.focus();
  }

  // What could not be sent is still on the page; say why, above it.
  const NO_ANSWER = "The server does not answer. What you typed is still here; try again.";

  function say(text) {
    const told = document.createElement("div");
    told.className = "message message-error";
    told.setAttribute("role", "alert");
    told.textContent = text;
    const messages = document.createElement("div");
    messages.className = "messages";
    messages.id = "not-sent";
    messages.append(told);
    document.getElementById("not-sent")?.remove();
    document.getElementById("content")?.prepend(messages);
    messages.scrollIntoView({ block: "nearest" });
  }

  document.addEventListener("htmx:sendError", () => say(NO_ANSWER));
  document.addEventListener("htmx:responseError", (event) => {
    const answer = event.detail.xhr;
    const isText = answer.getResponseHeader("Content-Type")?.startsWith("text/plain");
    if (answer.status >= 500 || answer.status === 401) say(isText ? answer.responseText : NO_ANSWER);
  });
  document.addEventListener("htmx:afterOnLoad", (event) => {
    if (event.detail.successful) document.getElementById("not-sent")?.remove();
  });

  // A part that is fetched anew keeps its named folds open, and the focus on them.
  let folds = { open: [], focused: "" };

  document.addEventListener("htmx:beforeSwap", (event) => {
    const open = event.detail.target.querySelectorAll("details[id][open]");
    const focused = document.activeElement.closest("summary")?.parentElement.id;
    folds = { open: Array.from(open, (fold) => fold.id), focused };
  });
  document.addEventListener("htmx:afterSwap", () => {
    for (const id of folds.open) {
      document.getElementById(id)?.setAttribute("open", "");
    }
    if (folds.focused && document.activeElement === document.body) {
      document.getElementById(folds.focused)?.querySelector("summary").focus();
    }
  });

  document.addEventListener("DOMContentLoaded", () => settle(document));
  document.addEventListener("htmx:afterSwap", (event) => settle(event.target));
})();

/* Small manners of a page: menus close, swapped-in errors take the focus, a wide drawing
   opens where now is. Hooks are data attributes; everything works without this file. */
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

  function settle(root) {
    for (const scroller of root.querySelectorAll("[data-scroll-to]")) {
      const x = Number(scroller.dataset.scrollTo);
      scroller.scrollLeft = Math.max(0, x - scroller.clientWidth * 0.2);
    }
    const summary = root.querySelector("[data-error-summary]");
    // The style guide shows one without anything having gone wrong.
    if (summary && !summary.closest(".theme-sample")) summary.focus();
  }

  document.addEventListener("DOMContentLoaded", () => settle(document));
  document.addEventListener("htmx:afterSwap", (event) => settle(event.target));
})();

/* Light, dark, or as the system says: kept in this browser only. Runs before first paint. */
(() => {
  const KEY = "slowcool-theme";
  const root = document.documentElement;

  function stored() {
    try {
      return localStorage.getItem(KEY) || "system";
    } catch {
      // Storage may be blocked; then the choice lasts for this page only.
      return root.dataset.theme || "system";
    }
  }

  function show(choice) {
    if (choice === "light" || choice === "dark") root.dataset.theme = choice;
    else delete root.dataset.theme;
    for (const button of document.querySelectorAll("[data-theme-choice]")) {
      const pressed = button.dataset.themeChoice === choice;
      button.setAttribute("aria-pressed", String(pressed));
    }
  }

  root.dataset.scripts = "";
  show(stored());
  document.addEventListener("DOMContentLoaded", () => show(stored()));
  document.addEventListener("click", (event) => {
    const button = event.target.closest("[data-theme-choice]");
    if (!button) return;
    const choice = button.dataset.themeChoice;
    try {
      localStorage.setItem(KEY, choice);
    } catch {
      // See stored(): blocked storage is no reason to refuse the switch.
    }
    show(choice);
  });
})();

// What changes on an open page: a swap waits while somebody is filling in a form inside it, what is new is said politely
// and counted in the title. Without this file, and without htmx, every page works by loading it again.
"use strict";
(() => {
  const told = document.getElementById("told");

  function isBusy(part) {
    const active = document.activeElement;
    if (part.contains(active) && active.matches("select, textarea, input:not([type=hidden])")) return true;
    return [...part.querySelectorAll("input[type=checkbox], input[type=text], textarea")].some(
      (one) => one.checked !== one.defaultChecked || one.value !== one.defaultValue);
  }

  document.body.addEventListener("htmx:beforeSwap", (event) => {
    const part = event.detail.target;
    if (!part.matches("[data-live]") || !isBusy(part)) return;
    event.detail.shouldSwap = false;
    if (told) told.textContent = part.dataset.stale;
    part.closest("main").querySelector(".stale")?.removeAttribute("hidden");
  });

  document.body.addEventListener("htmx:afterSettle", (event) => {
    const part = event.detail.target;
    const now = part.querySelector?.("[data-title]");
    if (!part.matches("[data-live]") || !now) return;
    part.closest("main").querySelector(".stale")?.setAttribute("hidden", "");
    document.title = now.dataset.title;
    if (told && now.dataset.newest !== part.dataset.newest) {
      part.dataset.newest = now.dataset.newest;
      told.textContent = now.dataset.told;
    }
  });
})();

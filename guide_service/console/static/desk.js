// Keys of the translators' desk. Everything they do can be reached with Tab and Enter too.
"use strict";
(() => {
  const work = document.getElementById("work");
  document.addEventListener("keydown", (event) => {
    if (event.key === "Enter" && (event.ctrlKey || event.metaKey) && work?.contains(event.target)) {
      event.preventDefault();
      work.requestSubmit(work.querySelector("button"));
    }
    if (!event.altKey || event.ctrlKey || event.metaKey) return;
    const to = { PageDown: "after", PageUp: "before" }[event.key];
    const link = to && document.getElementById(to);
    if (link) { event.preventDefault(); link.click(); }
  });
})();

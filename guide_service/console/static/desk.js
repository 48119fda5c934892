// Keys of the translators' desk. Everything they do can be reached with Tab and Enter too.
"use strict";
(() => {
  const work = document.getElementById("work");

  // In a field that runs from the right a place such as %(name)s is torn apart by the order of signs; below it, it is not.
  for (const area of document.querySelectorAll("textarea[data-seen]")) {
    const seen = document.getElementById(area.dataset.seen);
    const show = () => {
      seen.replaceChildren(...area.value.split(/(%\(\w+\)s|%%)/).map((part, index) => {
        if (index % 2 === 0) return part;
        const place = document.createElement("bdi");
        place.dir = "ltr";
        place.textContent = part;
        return place;
      }));
    };
    area.addEventListener("input", show);
    show();
  }

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

// Counts the segments of a text as it is typed, by the server's rule (3GPP TS 23.038): 160 characters of the plain
// alphabet or 70 others in one segment, 153 or 67 in each of several. The alphabet comes with the page.
"use strict";
(() => {
  function packed(sizes, room) {
    let count = 1, used = 0;
    for (const size of sizes) {
      if (used + size > room) { count += 1; used = 0; }
      used += size;
    }
    return count;
  }

  function segments(text, { basic, extension }) {
    const characters = [...text];
    const wide = !characters.every((c) => basic.includes(c) || extension.includes(c));
    const sizes = characters.map((c) => (wide ? c.length : extension.includes(c) ? 2 : 1));
    const units = sizes.reduce((sum, size) => sum + size, 0);
    const [single, joined] = wide ? [70, 67] : [160, 153];
    return { wide, count: units <= single ? 1 : packed(sizes, joined) };
  }

  function counted(area, line, alphabet) {
    const signed = area.value.trim() && area.dataset.signature ? `${area.value.trim()}\n${area.dataset.signature}` : area.value.trim();
    const text = [...signed].map((c) => alphabet.plain[c] ?? c).join("");
    if (!text) return "";
    const { wide, count } = segments(text, alphabet);
    const words = count === 1 ? line.dataset.one : line.dataset.many.replace("#", count);
    return wide ? `${words}, ${line.dataset.wide}` : words;
  }

  for (const area of document.querySelectorAll("textarea[data-segments]")) {
    const line = document.getElementById(area.dataset.segments);
    const alphabet = JSON.parse(area.dataset.alphabet);
    const show = () => { line.textContent = counted(area, line, alphabet); };
    area.addEventListener("input", show);
    show();
  }
})();

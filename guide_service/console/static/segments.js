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

  // A text with places, as a translator types it: each place at its longest, "%%" as the sign that it stands for.
  function filled(text, values) {
    return text.replace(/%(?:%|\((\w+)\)s)/g, (place, name) => (name === undefined ? "%" : values[name] ?? ""));
  }

  function counted(area, line, alphabet) {
    const typed = area.dataset.values ? filled(area.value.trim(), JSON.parse(area.dataset.values)) : area.value.trim();
    const signed = typed && area.dataset.signature ? `${typed}\n${area.dataset.signature}` : typed;
    const text = [...signed].map((c) => alphabet.plain[c] ?? c).join("");
    if (!text) return "";
    const { wide, count } = segments(text, alphabet);
    const over = area.dataset.allowed && count > Number(area.dataset.allowed);
    line.classList.toggle("flag", Boolean(over));
    const words = count === 1 ? line.dataset.one : line.dataset.many.replace("#", count);
    return [words, ...(wide ? [line.dataset.wide] : []), ...(over ? [line.dataset.over] : [])].join(", ");
  }

  for (const area of document.querySelectorAll("textarea[data-segments]")) {
    const line = document.getElementById(area.dataset.segments);
    const alphabet = JSON.parse(area.dataset.alphabet);
    const show = () => { line.textContent = counted(area, line, alphabet); };
    area.addEventListener("input", show);
    show();
  }
})();

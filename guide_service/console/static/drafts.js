// What is being written is kept in this tab until the county has it: a session that has ended, or a server that is away
// for a moment, loses no words. It goes with the tab, with signing out, and when somebody else signs in.
"use strict";
(() => {
  const kept = () => Object.keys(sessionStorage).filter((key) => key.startsWith("draft "));
  const forget = (which) => kept().filter(which).forEach((key) => sessionStorage.removeItem(key));
  // One address takes the same form of many things (a text, a version): what a form holds unseen tells them apart.
  const nameOf = (form) => [
    new URL(form.action).pathname,
    ...[...form.querySelectorAll("input[type=hidden]:not([name=csrf])")].map((one) => `${one.name}=${one.value}`),
  ].join("&");

  // A page that says "done" is the answer to the form that was sent last. It says so once: not when it is loaded again.
  const sent = sessionStorage.getItem("sent");
  sessionStorage.removeItem("sent");
  const here = new URL(location.href);
  if (here.searchParams.has("done")) {
    if (sent) forget((key) => key.startsWith(sent));
    here.searchParams.delete("done");
    history.replaceState(history.state, "", here);
  }

  const who = document.body.dataset.who;
  if (!who) return;
  forget((key) => !key.startsWith(`draft ${who} `));

  for (const area of document.querySelectorAll("form[method=post] textarea")) {
    const key = `draft ${who} ${nameOf(area.form)} ${area.name}`;
    if (!area.value) area.value = sessionStorage.getItem(key) ?? "";
    area.addEventListener("input", () => {
      if (area.value) sessionStorage.setItem(key, area.value);
      else sessionStorage.removeItem(key);
    });
  }

  document.addEventListener("submit", (event) => {
    if (new URL(event.target.action).pathname === "/console/sign-out") forget(() => true);
    else sessionStorage.setItem("sent", `draft ${who} ${nameOf(event.target)} `);
  });
})();

// What is being written is kept in this tab until the county has it: a session that has ended, a form that was refused, or
// a server that is away for a moment, loses nothing. It goes with the tab, with signing out, and when somebody else signs
// in. Words are kept as they are typed; the other fields (a day, a choice, a tick) when the form is sent, since a choice
// that was never sent must not look like one that was made. Passwords and codes are never kept.
"use strict";
(() => {
  const kept = () => Object.keys(sessionStorage).filter((key) => key.startsWith("draft "));
  const forget = (which) => kept().filter(which).forEach((key) => sessionStorage.removeItem(key));
  // One address takes the same form of many things (a text, a version): what a form holds unseen tells them apart.
  const nameOf = (form) => [
    new URL(form.action).pathname,
    ...[...form.querySelectorAll("input[type=hidden]:not([name=csrf])")].map((one) => `${one.name}=${one.value}`),
  ].join("&");
  const secret = (field) => field.type === "password" || field.type === "hidden" || field.autocomplete === "one-time-code";
  const fieldsOf = (form) => [...form.elements].filter((field) => field.name && field.tagName !== "BUTTON" && !secret(field));
  const ticked = (field) => field.type === "checkbox" || field.type === "radio";

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

  // Words: as they were typed.
  for (const area of document.querySelectorAll("form[method=post] textarea")) {
    const key = `draft ${who} ${nameOf(area.form)} ${area.name}`;
    if (!area.value) area.value = sessionStorage.getItem(key) ?? "";
    area.addEventListener("input", () => {
      if (area.value) sessionStorage.setItem(key, area.value);
      else sessionStorage.removeItem(key);
    });
  }

  // The other fields: as they were sent, once. A page that is itself the answer to the form has filled it in already.
  for (const form of document.querySelectorAll("form[method=post]")) {
    const key = `draft ${who} ${nameOf(form)} #fields`;
    const found = sessionStorage.getItem(key);
    if (!found) continue;
    sessionStorage.removeItem(key);
    if ("answer" in document.body.dataset) continue;
    const values = JSON.parse(found);
    for (const field of fieldsOf(form)) {
      if (field.tagName === "TEXTAREA") continue;
      if (ticked(field)) field.checked = values.includes(`${field.name}=${field.value}`);
      else field.value = values.find((one) => one.startsWith(`${field.name}=`))?.slice(field.name.length + 1) ?? "";
    }
    for (let around = form.closest("details"); around; around = around.parentElement.closest("details")) around.open = true;
  }

  document.addEventListener("submit", (event) => {
    const form = event.target;
    if (new URL(form.action).pathname === "/console/sign-out") return forget(() => true);
    if (form.method !== "post") return;
    const name = `draft ${who} ${nameOf(form)} `;
    const values = fieldsOf(form).filter((field) => !ticked(field) || field.checked).map((field) => `${field.name}=${field.value}`);
    sessionStorage.setItem("sent", name);
    if (values.length) sessionStorage.setItem(`${name}#fields`, JSON.stringify(values));
  });
})();

// A call of the practice phone: what is heard as text (and aloud by the browser's own voices), keys, words, silence.
"use strict";
(() => {
  const at = (id) => document.getElementById(id);
  const state = { call: null, pressed: "" };
  const remembered = "practice-number";

  async function ask(address, body) {
    const answer = await fetch(address, {
      method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(body),
    });
    const result = answer.status === 204 ? {} : await answer.json();
    if (!answer.ok) throw new Error(typeof result.detail === "string" ? result.detail : "that did not work");
    return result;
  }

  function line(who, words, language) {
    const item = document.createElement("li");
    item.className = who;
    if (language) item.lang = language;
    item.dir = "auto";
    item.textContent = words;
    at("heard").append(item);
    at("heard").scrollTop = at("heard").scrollHeight;
  }

  function aloud(words, language) {
    if (!at("aloud").checked || !("speechSynthesis" in window)) return;
    const spoken = new SpeechSynthesisUtterance(words);
    spoken.lang = language;
    window.speechSynthesis.speak(spoken);
  }

  function hear(answer) {
    state.call = answer;
    state.pressed = "";
    at("keyed").textContent = "";
    for (const each of answer.lines) {
      line(each.recording ? "recorded" : "county", each.words, each.language);
      if (!each.recording) aloud(each.words, each.language);
    }
    if (answer.then === "dial") line("note", `A phone rings at ${answer.dials}.`, "en");
    if (answer.then === "record") line("note", "A tone. Say the message.", "en");
    if (answer.then === "over") over("The county hung up.");
    else show();
  }

  function show() {
    const then = state.call.then;
    at("idle").hidden = true;
    at("oncall").hidden = false;
    at("pad").hidden = then !== "answer";
    at("agent").hidden = then !== "dial";
    at("speak").hidden = !(then === "record" || (then === "answer" && state.call.words));
    at("silence").hidden = then !== "answer";
    at("hang").hidden = false;
  }

  // what was heard stays to be read
  function over(words) {
    line("note", words, "en");
    state.call = null;
    for (const id of ["pad", "agent", "speak", "silence", "hang"]) at(id).hidden = true;
    at("idle").hidden = false;
    at("ring").focus();
  }

  const give = async (body) => hear(await ask(`/handset/calls/${state.call.call}`, body));

  function hush() {
    if ("speechSynthesis" in window) window.speechSynthesis.cancel();
  }

  async function press(key) {
    hush();
    if (state.call.one_key) {
      line("me", key);
      await give({ keys: key });
      return;
    }
    state.pressed += key;
    at("keyed").textContent = state.pressed;
    if (key === "#") {
      line("me", state.pressed);
      await give({ keys: state.pressed });
    }
  }

  async function say(words) {
    hush();
    line("me", words);
    at("words").value = "";
    // four words in two seconds
    const seconds = Math.max(1, Math.round(words.trim().split(/\s+/).length / 2));
    await give(state.call.then === "record" ? { left_seconds: seconds } : { words });
  }

  async function attempt(step) {
    try {
      at("calltrouble").textContent = "";
      await step();
    } catch (problem) {
      at("calltrouble").textContent = problem.message;
      if (state.call && /over|cut off/.test(problem.message)) over("The call was cut off.");
    }
  }

  for (const key of "123456789*0#") {
    const button = document.createElement("button");
    button.type = "button";
    button.textContent = key;
    if (key === "*") button.setAttribute("aria-label", "star");
    if (key === "#") button.setAttribute("aria-label", "number sign, the key below the 9");
    button.addEventListener("click", () => attempt(() => press(key)));
    at("pad").append(button);
  }
  at("ring").addEventListener("click", () => attempt(async () => {
    at("heard").replaceChildren();
    const number = localStorage.getItem(remembered) || "+12025550123";
    hear(await ask("/handset/calls", { number, shown: at("shown").checked }));
  }));
  document.addEventListener("pick-up", (event) => attempt(async () => {
    at("heard").replaceChildren();
    at("call").scrollIntoView({ block: "nearest" });
    hear(await ask(`/handset/calls/${event.detail}/take`, {}));
  }));
  at("speak").addEventListener("submit", (event) => {
    event.preventDefault();
    if (at("words").value.trim()) attempt(() => say(at("words").value));
  });
  at("silence").addEventListener("click", () => attempt(() => { line("me", "(silence)"); return give({}); }));
  for (const button of document.querySelectorAll("[data-agent]")) {
    button.addEventListener("click", () => attempt(() => give({ agent: button.dataset.agent === "yes" })));
  }
  at("hang").addEventListener("click", () => attempt(async () => {
    hush();
    await ask(`/handset/calls/${state.call.call}/end`, {});
    over("You hung up.");
  }));
})();

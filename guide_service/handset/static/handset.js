// The practice phone's page: shows the texts of one number, sends, picks numbers, moves the clock.
"use strict";
(() => {
  const at = (id) => document.getElementById(id);
  const remembered = "practice-number";
  const state = { number: "", shown: "" };

  const pretty = (number) => number.replace(/^\+1(\d{3})(\d{3})(\d{4})$/, "$1 $2 $3");
  const wallClock = (iso) => new Intl.DateTimeFormat("en-US", {
    hour: "numeric", minute: "2-digit", timeZone: "UTC",
  }).format(new Date(iso));

  async function call(address, body) {
    const options = body === undefined ? {} : {
      method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(body),
    };
    const answer = await fetch(address, options);
    const result = await answer.json();
    if (!answer.ok) throw new Error(typeof result.detail === "string" ? result.detail : "that did not work");
    return result;
  }

  function showNow(iso) {
    const time = at("now");
    time.dateTime = iso;
    state.offset = iso.slice(19);
    time.textContent = new Intl.DateTimeFormat("en-US", {
      weekday: "short", day: "numeric", month: "short", hour: "numeric", minute: "2-digit", timeZone: "UTC",
    }).format(new Date(`${iso.slice(0, 19)}Z`));
  }

  // times are shown in the county's zone, as the clock says it
  function local(iso) {
    const [, sign, hours, minutes] = /([+-])(\d\d):(\d\d)$/.exec(state.offset) ?? [, "+", "0", "0"];
    const shift = (Number(hours) * 60 + Number(minutes)) * (sign === "-" ? -1 : 1);
    return new Date(new Date(iso).getTime() + shift * 60000).toISOString();
  }

  function element(name, className, text) {
    const made = document.createElement(name);
    if (className) made.className = className;
    if (text !== undefined) made.textContent = text;
    return made;
  }

  function ring(text) {
    const item = element("li", "received");
    item.append(element("p", "body", { rings: "The county calls.", taken: "The county called.", missed: "The county called; nobody took it." }[text.direction]));
    if (text.direction === "rings") {
      const button = element("button", "main", "Pick up");
      button.addEventListener("click", () => document.dispatchEvent(new CustomEvent("pick-up", { detail: text.sid })));
      item.append(button);
    }
    item.append(element("p", "meta", wallClock(local(text.at))));
    return item;
  }

  function entry(text) {
    if (!["sent", "received"].includes(text.direction)) return ring(text);
    const item = element("li", text.direction);
    item.append(element("span", "hidden", text.direction === "sent" ? "You wrote: " : "The county wrote: "));
    const body = element("p", "body", text.body);
    body.dir = "auto";
    const plural = text.segments === 1 ? "1 segment" : `${text.segments} segments`;
    item.append(body, element("p", "meta", `${wallClock(local(text.at))}, ${plural}, ${text.encoding}`));
    return item;
  }

  function showTexts(texts) {
    const looks = [state.number, texts.length, ...texts.map((text) => text.id + text.direction)].join(" ");
    if (looks === state.shown) return;
    state.shown = looks;
    const list = at("texts");
    list.replaceChildren();
    let day = "";
    for (const text of texts) {
      const its = local(text.at).slice(0, 10);
      if (its !== day) {
        day = its;
        const line = element("li", "day");
        line.append(element("span", "", new Intl.DateTimeFormat("en-US", {
          weekday: "long", day: "numeric", month: "long", timeZone: "UTC",
        }).format(new Date(`${its}T12:00:00Z`))));
        list.append(line);
      }
      list.append(entry(text));
    }
    list.tabIndex = texts.length ? 0 : -1;
    at("none").hidden = texts.length > 0;
    list.scrollTop = list.scrollHeight;
  }

  function showNumbers(known) {
    const all = known.includes(state.number) ? known : [state.number, ...known];
    const looks = [state.number, ...all].join(" ");
    if (looks === state.listed) return; // a new list would take the focus away
    state.listed = looks;
    at("numbers").replaceChildren(...all.map((number) => {
      const button = element("button", "", pretty(number));
      button.type = "button";
      button.setAttribute("aria-pressed", String(number === state.number));
      button.addEventListener("click", () => use(number));
      const item = element("li");
      item.append(button);
      return item;
    }));
  }

  async function refresh() {
    const number = state.number;
    const result = await call(`/handset/texts?number=${encodeURIComponent(number)}`);
    if (number !== state.number) return;
    showNow(result.now);
    showTexts(result.texts);
  }

  async function use(number) {
    state.number = number;
    localStorage.setItem(remembered, number);
    at("own").textContent = pretty(number);
    state.shown = "";
    at("texts").replaceChildren();
    at("trouble").textContent = "";
    await refresh();
    showNumbers((await call("/handset/numbers")).numbers);
  }

  // a step that fails is said beside the form and leaves everything as it was
  async function attempt(step) {
    try {
      at("trouble").textContent = "";
      await step();
    } catch (problem) {
      at("trouble").textContent = problem.message;
    }
  }

  async function send() {
    const body = at("body").value;
    await call("/handset/texts", { number: state.number, body });
    at("body").value = "";
    await refresh();
    showNumbers((await call("/handset/numbers")).numbers);
    at("body").focus();
  }

  function e164(written) {
    const digits = written.replace(/\D/g, "");
    return digits.length === 10 ? `+1${digits}` : `+${digits}`;
  }

  at("send").addEventListener("submit", (event) => { event.preventDefault(); attempt(send); });
  at("body").addEventListener("keydown", (event) => {
    if (event.key === "Enter" && !event.shiftKey) { event.preventDefault(); attempt(send); }
  });
  at("pick").addEventListener("submit", (event) => {
    event.preventDefault();
    const number = e164(at("number").value);
    attempt(async () => {
      if (!/^\+1[2-9]\d{2}55501\d{2}$/.test(number)) {
        throw new Error("The practice phone uses numbers such as 202 555 0123 (555-0100 to 555-0199).");
      }
      await use(number);
      at("number").value = "";
    });
  });
  for (const button of document.querySelectorAll("[data-minutes]")) {
    button.addEventListener("click", () => attempt(async () => {
      showNow((await call("/handset/clock", { advance_minutes: Number(button.dataset.minutes) })).now);
      await refresh();
    }));
  }

  async function start() {
    const known = await call("/handset/numbers");
    showNow(known.now);
    at("service").textContent = pretty(known.service);
    await use(localStorage.getItem(remembered) || known.numbers[0] || "+12025550123");
    setInterval(() => { if (!document.hidden) refresh().catch(() => {}); }, 2000);
  }
  attempt(start);
})();

// What a page does better with a script. Every page works without it.
"use strict";
(() => {
  const KEPT = "newtank kept", AID = "newtank emergency";
  const read = (name, or) => { try { return JSON.parse(localStorage.getItem(name)) ?? or; } catch { return or; } };
  const keep = (name, value) => { try { localStorage.setItem(name, JSON.stringify(value)); return true; } catch { return false; } };
  const sign = document.getElementById("kept");
  const within = (ms) => { const stop = new AbortController(); setTimeout(() => stop.abort(), ms); return stop.signal; };

  // --- what was sent while the network was away is kept here until it has arrived. The server writes each key once.
  const tell = (more) => {
    const n = read(KEPT, []).length;
    if (!sign) return;
    sign.hidden = !n && !more;
    sign.textContent = more || (n ? `No network. ${n === 1 ? "One entry is" : `${n} entries are`} kept on this device and will be sent by ${n === 1 ? "itself" : "themselves"}.` : "");
  };
  // How long it lay here, so that it is written with the time at which it was entered.
  const age = (one) => String(Math.max(0, Math.round((Date.now() - one.at) / 1000)));
  const post = (one) => fetch(one.to, { method: "POST", body: new URLSearchParams([...one.fields, ["age", age(one)]]), redirect: "follow", signal: within(15000) });
  const arrived = (answer) => answer.status < 500 && !(answer.redirected && new URL(answer.url).pathname === "/pair");
  let sending = false;
  const flush = async () => {
    if (sending || !read(KEPT, []).length) return;
    sending = true;
    let last = null, why = "";
    try {
      for (let one; (one = read(KEPT, [])[0]); ) {
        const answer = await post(one);
        if (!arrived(answer)) { if (answer.redirected) why = "Pair this device, then what is kept here is sent."; break; }
        keep(KEPT, read(KEPT, []).slice(1));
        last = answer;
        if (!answer.redirected) { await show(answer); break; }
      }
    } catch { /* still away */ } finally { sending = false; }
    tell(why);
    if (last && last.redirected && !document.querySelector("[data-draft] input:focus")) location.assign(last.url);
  };
  // A page that answers instead of leading on: a question, or why nothing was written.
  const show = async (answer) => {
    const page = new DOMParser().parseFromString(await answer.text(), "text/html"), main = page.querySelector("main");
    if (!main) return;
    document.querySelector("main").replaceWith(main);
    document.title = page.title;
    prepare(main, true);
    const wrong = main.querySelector("[aria-invalid]");
    if (wrong) { wrong.focus(); wrong.scrollIntoView({ block: "center" }); return; }
    main.focus();
    scrollTo(0, 0);
  };

  document.addEventListener("submit", async (event) => {
    const form = event.target;
    if (form.method !== "post" || !(form.dataset.keep || form.dataset.draft)) return;
    event.preventDefault();
    const one = { at: Date.now(), to: new URL(form.action).pathname, fields: [...new FormData(form)].map(([name, value]) => [name, String(value)]) };
    const button = form.querySelector("button[type=submit]");
    if (button) button.disabled = true;
    try {
      const answer = await post(one);
      if (answer.status >= 500 && form.dataset.keep) throw new Error("busy");
      if (answer.redirected) {
        // A phone that is not paired yet is led to pairing, and what it sent waits here until then.
        if (form.dataset.keep && !arrived(answer)) keep(KEPT, [...read(KEPT, []), one]);
        location.assign(answer.url);
        return;
      }
      await show(answer);
    } catch {
      if (form.dataset.draft) {
        draft(form);
        tell("No network. Your numbers stay on this page; touch “Go on” again once the network is back.");
      } else if (keep(KEPT, [...read(KEPT, []), one])) {
        tell();
        const line = document.createElement("p");
        line.className = "soft waiting";
        line.textContent = "Kept on this device until the network is back.";
        form.replaceWith(line);
        return;
      } else {
        tell("No network, and this device keeps nothing. Write it down, and enter it later.");
      }
    }
    if (button) button.disabled = false;
  });

  // --- numbers typed into a test stay until they are saved, also over a reload
  const drafts = (form) => `newtank draft ${form.dataset.draft}`;
  const draft = (form) => {
    const fields = [...new FormData(form)].filter(([name, value]) => !["key", "next", "form", "shown"].includes(name) && !name.startsWith("unit:") && value);
    keep(drafts(form), { at: Date.now(), fields: fields.some(([name]) => /^(value|pick):/.test(name)) ? fields : [] });
  };
  const fill = (form, fields) => {
    for (const [name, value] of fields) {
      for (const field of form.elements) {
        if (field.name !== name) continue;
        if (field.type === "radio") field.checked = field.value === value;
        else field.value = value;
      }
    }
  };
  // On a later visit they may be of another test: they are offered with their time, and never filled in unasked.
  const restore = (form) => {
    const kept = read(drafts(form), null);
    if (!kept?.fields?.length) return;
    if (["reload", "back_forward"].includes(performance.getEntriesByType("navigation")[0]?.type)) { fill(form, kept.fields); return; }
    const at = new Date(kept.at), time = at.toLocaleTimeString("en-GB", { hour: "2-digit", minute: "2-digit" });
    const day = at.toDateString() === new Date().toDateString() ? "" : `${at.toLocaleDateString("en-GB", { day: "numeric", month: "short" })}, `;
    const offer = document.createElement("p");
    offer.className = "draft";
    offer.append(`Kept from ${day}${time}. `);
    for (const [words, act] of [["Use it", () => fill(form, kept.fields)], ["Throw it away", () => { try { localStorage.removeItem(drafts(form)); } catch { /* nothing is kept */ } }]]) {
      const button = document.createElement("button");
      button.type = "button";
      button.textContent = words;
      button.addEventListener("click", () => { act(); offer.remove(); });
      offer.append(button, " ");
    }
    form.prepend(offer);
  };

  // --- a pad of large keys below a number, where fingers are wet
  const pad = (input) => {
    const keys = document.createElement("div");
    keys.className = "pad";
    keys.setAttribute("role", "group");
    keys.setAttribute("aria-label", "Number pad");
    for (const key of ["1", "2", "3", "4", "5", "6", "7", "8", "9", ".", "0", "⌫"]) {
      const button = document.createElement("button");
      button.type = "button";
      button.textContent = key;
      if (key === "⌫") button.setAttribute("aria-label", "Take the last digit away");
      button.addEventListener("click", () => {
        input.value = key === "⌫" ? input.value.slice(0, -1) : input.value + key;
        input.dispatchEvent(new Event("input", { bubbles: true }));
      });
      keys.append(button);
    }
    const open = document.createElement("button");
    open.type = "button";
    open.textContent = "Pad";
    open.setAttribute("aria-expanded", "false");
    open.setAttribute("aria-label", `Number pad: ${input.closest("fieldset")?.querySelector("legend")?.textContent ?? ""}`);
    keys.hidden = true;
    open.addEventListener("click", () => { keys.hidden = !keys.hidden; open.setAttribute("aria-expanded", String(!keys.hidden)); });
    input.closest(".entry").append(open);
    input.closest(".entry").after(keys);
  };

  // `answered`: the server has just sent it back filled in.
  const prepare = (main, answered = false) => {
    for (const form of main.querySelectorAll("[data-draft]")) {
      if (!answered) restore(form);
      form.addEventListener("input", () => draft(form));
    }
    for (const input of main.querySelectorAll("[data-pad]")) pad(input);
    for (const form of main.querySelectorAll("[data-autosend]")) form.addEventListener("change", () => form.requestSubmit());
    const code = main.querySelector("#code");
    if (code && /^#[0-9]{6,12}$/.test(location.hash)) {
      code.value = location.hash.slice(1);
      history.replaceState(null, "", location.pathname + location.search);
    }
  };

  // --- once a test is saved its draft goes
  if (new URLSearchParams(location.search).has("did")) {
    try { for (const name of Object.keys(localStorage)) if (name.startsWith("newtank draft")) localStorage.removeItem(name); } catch { /* nothing is kept */ }
  }

  // --- the emergency page is at hand without a network too
  // It is read anew once in each window, so that a copy of last year's page does not stay.
  const fresh = () => { try { return read(aid, "") && sessionStorage.getItem(aid); } catch { return read(aid, ""); } };
  const hold = (text) => { keep(aid, text); try { sessionStorage.setItem(aid, "1"); } catch { /* it is read again */ } };
  const base = document.body.dataset.base, aid = `${AID} ${base}`;
  if (base) {
    if (location.pathname === `${base}/emergency`) { if (!location.search) hold(document.querySelector("main").innerHTML); }
    else if (!fresh()) fetch(`${base}/emergency`, { signal: within(15000) }).then((a) => a.text()).then((text) => hold(new DOMParser().parseFromString(text, "text/html").querySelector("main").innerHTML)).catch(() => {});
    document.addEventListener("click", async (event) => {
      const link = event.target.closest("a.urgent");
      if (!link || event.ctrlKey || event.metaKey) return;
      event.preventDefault();
      try {
        await fetch(link.href, { method: "HEAD", signal: within(3000) });
        location.assign(link.href);
      } catch {
        const main = document.querySelector("main");
        main.innerHTML = read(aid, "<h1>Emergency</h1><p>This page has not been read on this device yet.</p>");
        // What is kept is shown more than once, and each thing that happens is an entry of its own.
        for (const key of main.querySelectorAll("[name=key]")) key.value = [...crypto.getRandomValues(new Uint32Array(4))].join("-");
        main.focus();
        tell("No network. This is the emergency page as it was last read.");
      }
    });
  }

  // Who comes back to a page by the browser's own arrow gets it as it is now.
  addEventListener("pageshow", (event) => { if (event.persisted) location.reload(); });

  prepare(document);
  addEventListener("online", flush);
  setInterval(flush, 10000);
  tell();
  flush();
})();

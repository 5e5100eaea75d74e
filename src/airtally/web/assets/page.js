// Edits are kept on this device until the server has answered, and are sent again, each once, when it is back.
// Without this script every form still works by its own button.
//
// A form marked data-keep holds groups of controls. Of a group:
//   data-place  who it is, whatever page or revision it is drawn in
//   data-name   what the names of its controls begin with; left out, the names are sent as they are
//   data-based, data-at   the revision it is based on and the way to it there, once a save has told (each group its own)
"use strict";
(() => {
  const SHELF = "airtally:waiting";
  const said = document.getElementById("said");
  const read = () => { try { return JSON.parse(localStorage.getItem(SHELF) || "[]"); } catch { return []; } };
  const write = (list) => localStorage.setItem(SHELF, JSON.stringify(list));
  const say = (text) => { if (said && said.textContent !== text) said.textContent = text; };
  const clock = () => new Date().toLocaleTimeString([], { hour: "2-digit", minute: "2-digit" });
  const newKey = () => Array.from(crypto.getRandomValues(new Uint8Array(16)), (b) => b.toString(16).padStart(2, "0")).join("");
  const shelved = (change) => navigator.locks ? navigator.locks.request(SHELF, change) : change();
  const isSame = (one, other) => one.url === other.url && one.place === other.place;
  const waits = (one) => one.state === "waiting" || one.state === "sent";
  const waiting = () => read().filter(waits);
  const changes = (count) => `${count} ${count === 1 ? "change waits" : "changes wait"}`;

  // One entry a field: a later value of the same field takes the place of one that has not been sent yet.
  const keep = (entry) => shelved(() => {
    const list = read().filter((one) => !isSame(one, entry) || one.state === "sent");
    write([...list, entry]);
  });
  const drop = (key) => shelved(() => write(read().filter((one) => one.key !== key)));
  const mark = (key, more) => shelved(() => write(read().map((one) => one.key === key ? { ...one, ...more } : one)));
  // A value typed while an earlier one of the same field was on its way stands on what that one made.
  const rebase = (sent, told) => shelved(() => write(read().map((one) =>
    isSame(one, sent) && one.state === "waiting" ? { ...one, based: told.revision, at: told.at || one.at } : one)));

  function body(one) {
    const params = new URLSearchParams(one.fields.map(([suffix, value]) => [one.at + suffix, value]));
    params.set("based_on", one.based);
    params.set("post", one.key);
    params.set("only", one.at || one.place);
    params.set("typed", one.typed || "");
    return params;
  }

  let isSending = false, isLost = false;
  // Asked, not believed: a laptop without any network calls itself offline and still reaches its own server.
  const isReached = () => fetch("/assets/mark.svg", { method: "HEAD", cache: "no-store" }).then(() => true, () => false);
  const mayBeCut = () => isLost || !navigator.onLine;
  const needsServer = () => say("No connection: that needs it. This page stays open; what you type in it is kept on this device.");
  async function send() {
    if (isSending) return;
    const isCutOff = () => { isLost = true; say(`No connection: ${changes(waiting().length)} on this device and will be sent when it is back.`); };
    isSending = true;
    try {
      if (!navigator.onLine && !(await isReached())) { isCutOff(); return; } // nothing left the device: a later value may still take its place
      for (let list = waiting(); list.length; list = waiting()) {
        const one = list[0];
        await mark(one.key, { state: "sent" });
        let answer;
        try {
          answer = await fetch(one.url, { method: "POST", headers: { accept: "application/json" }, body: body(one) });
        } catch {
          isCutOff();
          return;
        }
        isLost = false;
        const isTold = (answer.headers.get("content-type") || "").includes("json");
        if (answer.status >= 500 || !isTold) {
          const why = answer.redirected ? "This device must be paired again" : "The server could not keep a change";
          say(`${why}; ${changes(waiting().length)} on this device and will be tried again.`);
          return;
        }
        const told = await answer.json();
        if (answer.ok) {
          await drop(one.key);
          if (told.revision) await rebase(one, told);
        } else await mark(one.key, { state: answer.status === 409 ? "both" : "refused", told });
        tell(one, answer.status, told);
      }
    } finally { isSending = false; }
  }

  const groupOf = (one) => Array.from(document.querySelectorAll(`[data-place="${CSS.escape(one.place)}"]`))
    .find((group) => group.closest("form") && group.closest("form").action === one.url);
  const controlsOf = (group) => Array.from(group.querySelectorAll("input[name], select[name], textarea[name]")).filter((control) => control.type !== "file");
  const suffixOf = (group, control) => control.name.slice((group.dataset.name || "").length);

  function tell(one, status, told) {
    const group = groupOf(one);
    if (group) {
      if (told.revision && status === 200) {
        group.dataset.based = told.revision;
        group.dataset.at = told.at || "";
      }
      show(group, status, told, one);
    }
    if (status === 200) {
      const count = waiting().length;
      say(count ? `Saved ${clock()}, ${count} more to send.` : `Saved ${clock()}.${told.note ? " Look at the note beside the field." : ""}`);
    } else say(told.said || "Not kept: see beside the field.");
    document.dispatchEvent(new CustomEvent("airtally:told", { detail: { one, told, status } }));
  }

  function show(group, status, told, one) {
    const note = group.querySelector(".said");
    if (note) { note.textContent = told.note || ""; note.classList.toggle("trouble", status === 422); }
    for (const control of controlsOf(group)) {
      if (status === 422) control.setAttribute("aria-invalid", "true");
      else control.removeAttribute("aria-invalid");
    }
    const place = group.querySelector(".both");
    if (!place) return;
    place.replaceChildren();
    place.hidden = status !== 409 || !told.both;
    if (!place.hidden) choose(group, place, told, one);
  }

  // Both versions of a field, to choose from; mine stays in the controls and on this device until then.
  function choose(group, place, told, one) {
    const add = (tag, text) => place.appendChild(Object.assign(document.createElement(tag), { textContent: text }));
    add("p", `Changed meanwhile by ${told.both.by}: ${told.both.theirs}`);
    add("p", `Yours, not kept yet: ${told.both.yours}`);
    const button = (text, act) => Object.assign(add("button", text), { type: "button", className: "quiet", onclick: act });
    if (told.both.is_gone) add("p", "Its entry was taken away. Bring it back under Edits to keep yours.");
    else button("Keep mine", async () => {
      await keep({ ...one, key: newKey(), state: "waiting", based: told.revision, at: told.at, told: undefined });
      send();
    });
    button("Take theirs", async () => {
      await drop(one.key);
      fill(group, told.both.sends);
      group.dataset.based = told.revision;
      group.dataset.at = told.at;
      show(group, 200, {}, one);
      say("Theirs stands. Nothing of yours waits for this field.");
    });
  }

  function fill(group, fields) {
    for (const control of controlsOf(group)) {
      const values = fields.filter(([suffix]) => suffix === suffixOf(group, control)).map(([, value]) => value);
      if (control.type === "radio" || control.type === "checkbox") control.checked = values.includes(control.value);
      else if (values.length && control.type !== "hidden") control.value = values[0];
    }
  }

  // A number and a word for none exclude each other: the one touched last stands.
  document.addEventListener("input", (event) => {
    if (!event.target.matches("[data-number]") || !event.target.value.trim()) return;
    const word = event.target.parentElement.querySelector("[data-standing]");
    if (word) word.value = "";
  });
  document.addEventListener("change", (event) => {
    if (!event.target.matches("[data-standing]")) return;
    const number = event.target.parentElement.querySelector("[data-number]");
    if (event.target.value) number.value = "";
    else number.focus();
  });
  // The figures' keypad of a phone lacks brackets and letters; a button beside the number brings them.
  if (matchMedia("(pointer: coarse)").matches) for (const number of document.querySelectorAll("[data-number]")) {
    const label = document.querySelector(`label[for="${CSS.escape(number.id)}"]`);
    const button = Object.assign(document.createElement("button"), { type: "button", className: "quiet keypad", textContent: "abc" });
    button.setAttribute("aria-label", `Letters and brackets for ${label ? label.textContent : "this number"}`);
    button.onclick = () => { number.inputMode = number.inputMode === "decimal" ? "text" : "decimal"; number.focus(); };
    number.after(button);
  }

  // A group sends itself when one of its controls was changed and left.
  let keeping = Promise.resolve();
  document.addEventListener("change", (event) => {
    const group = event.target.closest("[data-place]");
    const form = event.target.closest("form[data-keep]");
    if (!group || !form || event.target.type === "file") return;
    const fields = controlsOf(group)
      .filter((control) => (control.type !== "radio" && control.type !== "checkbox") || control.checked)
      .map((control) => [suffixOf(group, control), control.value]);
    const before = read().find((one) => isSame(one, { url: form.action, place: group.dataset.place }) && one.state !== "sent");
    const based = form.querySelector("input[name=based_on]");
    keeping = keep({
      key: newKey(), url: form.action, place: group.dataset.place, state: "waiting", fields, typed: new Date().toISOString(),
      based: before ? before.based : group.dataset.based || (based ? based.value : "0"),
      at: before ? before.at : group.dataset.at || group.dataset.name || "",
    });
    Promise.resolve(keeping).then(send);
  });

  // What is typed and not kept yet is put back when the page is opened again, with what was said about it.
  for (const one of read()) {
    const group = groupOf(one);
    if (!group) continue;
    fill(group, one.fields);
    if (one.told) show(group, one.state === "both" ? 409 : 422, one.told, one);
  }
  // A form that keeps itself has nothing left to send by its button; any other is sent once by a double tap.
  document.addEventListener("submit", (event) => {
    const form = event.target;
    if (form.matches("[data-keep]")) {
      event.preventDefault();
      Promise.resolve(keeping).then(send).then(() => { if (!waiting().length) say(`All of this page is saved, ${clock()}.`); });
    } else if (form.dataset.isSent) event.preventDefault();
    else if (mayBeCut() && !form.dataset.isReached) {
      event.preventDefault();
      isReached().then((is) => {
        if (!is) { needsServer(); return; }
        form.dataset.isReached = "yes";
        form.requestSubmit(event.submitter);
      });
    } else {
      form.dataset.isSent = "yes";
      setTimeout(() => { delete form.dataset.isSent; delete form.dataset.isReached; }, 4000);
    }
  });
  // A page that cannot be reached is not opened: the form that stands here would be gone until the connection is back.
  document.addEventListener("click", (event) => {
    const link = event.target.closest("a[href]");
    if (!link || link.getAttribute("href").startsWith("#") || !mayBeCut() || event.ctrlKey || event.metaKey) return;
    event.preventDefault();
    isReached().then((is) => is ? location.assign(link.href) : needsServer());
  });
  window.addEventListener("online", send);
  setInterval(() => { if (waiting().length) send(); }, 5000);
  if (waiting().length) send();
})();

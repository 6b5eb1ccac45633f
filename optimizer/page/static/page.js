// The script of the bench page: every page works without it, it only saves taps and loads.
"use strict";

const main = () => document.getElementById("main");
let busy = 0;

/** Put what a server answered in the place of the page, keeping what is being typed. */
function show(html, url) {
  const next = new DOMParser().parseFromString(html, "text/html");
  const fresh = next.getElementById("main");
  if (!fresh) { location.assign(url); return; }
  const old = main();
  const held = document.activeElement;
  const id = held && old.contains(held) ? held.id : "";
  const typed = keeping(old, fresh);
  const open = new Set([...old.querySelectorAll("details[open] > summary")].map((s) => s.textContent));
  old.replaceWith(document.adoptNode(fresh));
  const nav = next.querySelector("header.top");
  if (nav) document.querySelector("header.top").replaceWith(document.adoptNode(nav));
  document.title = next.title;
  document.querySelector(".stale").hidden = true;
  for (const s of fresh.querySelectorAll("details > summary")) if (open.has(s.textContent)) s.parentElement.open = true;
  for (const [key, value] of typed) {
    const field = document.getElementById(key);
    if (field) field.value = value;
  }
  return id;
}

/** Fields whose typed text is to be carried over to a new state of the same page. */
function keeping(old, fresh) {
  if (old.dataset.sent) return [];
  // a chosen file cannot be typed again by a script: its field itself is carried over
  for (const field of old.querySelectorAll("input[type=file][id]")) {
    const place = field.files.length && fresh.querySelector("#" + CSS.escape(field.id));
    if (place) place.replaceWith(field);
  }
  return [...old.querySelectorAll("input[id]:not([type=radio]):not([type=checkbox]):not([type=file]), textarea[id], select[id]")]
    .filter((field) => {
      const twin = fresh.querySelector("#" + CSS.escape(field.id));
      return twin && field.value !== sentAs(field) && roundOf(field) === roundOf(twin);
    })
    .map((field) => [field.id, field.value]);
}

/** Which round a field asks for: half a reading of one round is none of the next. */
function roundOf(field) {
  const round = field.form && field.form.elements.namedItem("round");
  return round ? round.value : "";
}

/** What a field held when the page came. */
function sentAs(field) {
  if (!field.options) return field.defaultValue;
  const chosen = [...field.options].find((one) => one.defaultSelected) || field.options[0];
  return chosen ? chosen.value : "";
}

function focus(id) {
  const wanted = main().querySelector("[data-focus]") || (id && document.getElementById(id));
  if (!wanted) return;
  wanted.focus({ preventScroll: !wanted.hasAttribute("data-focus") });
  if (wanted.select) wanted.select();
}

async function send(form, button) {
  const data = new FormData(form);
  if (button && button.dataset.part !== undefined) {
    data.set("part", button.dataset.part);
    data.set("on", button.dataset.on);
  } else if (button && button.name) data.set(button.name, button.value);
  const id = button && button.id;
  const shoe = form.querySelector("input.load");
  busy += 1;
  form.setAttribute("aria-busy", "true");
  try {
    const body = form.enctype === "multipart/form-data" ? data : new URLSearchParams(data);
    const answer = await fetch(form.action, { method: "POST", body, headers: { "X-Page": "1" } });
    // what was sent is not carried over, unless the answer gives it back itself
    if (!shoe) main().dataset.sent = "1";
    else shoe.value = shoe.defaultValue;
    show(await answer.text(), answer.url);
    if (answer.redirected) history.replaceState(null, "", answer.url);
    focus(id || after(form));
  } catch {
    form.removeAttribute("aria-busy");
    say("The page cannot be reached. Is evenstack still running? What you typed is still here.");
  } finally {
    busy -= 1;
  }
}

/** Where to go on after a reading: the next field that is empty, or the move once there is one. */
function after(form) {
  const sent = form.querySelector("input.load");
  if (!sent) return "";
  const round = main().querySelector("form [name=round]");
  if (!round || round.value !== form.querySelector("[name=round]").value) {
    scrollTo(0, 0);
    return "advice";
  }
  const left = [...main().querySelectorAll("article.ask:not(.stands) input.load")];
  const next = left.find((field) => field.id > sent.id) || left[0];
  return next ? next.id : "";
}

function say(words) {
  const line = document.querySelector(".stale");
  line.textContent = words;
  line.hidden = false;
}

document.addEventListener("submit", (event) => {
  const form = event.target;
  if (form.dataset.live === undefined) return;
  event.preventDefault();
  if (form.getAttribute("aria-busy") !== "true") send(form, event.submitter);
});

// Enter, or a caliper that types like a keyboard, goes on to the next field
document.addEventListener("keydown", (event) => {
  const field = event.target;
  if (event.key !== "Enter" || !field.dataset || field.dataset.enter !== "next") return;
  event.preventDefault();
  const all = [...field.form.querySelectorAll("input[data-enter]")].filter((f) => f.offsetParent);
  const next = all[all.indexOf(field) + 1];
  if (next) { next.focus(); next.select(); } else field.form.requestSubmit();
});

// each value is judged while the disc is still in the hand
let waiting = 0;
document.addEventListener("input", (event) => {
  const field = event.target;
  const form = field.form;
  if (!form || !form.dataset.look || !field.dataset.enter) return;
  clearTimeout(waiting);
  waiting = setTimeout(() => look(form, field), 350);
});
document.addEventListener("change", (event) => {
  const form = event.target.form;
  if (form && form.dataset.look && form.getAttribute("aria-busy") !== "true" && event.target.dataset.enter) look(form, event.target);
});

async function look(form, field) {
  clearTimeout(waiting);
  const out = form.querySelector("#o-" + CSS.escape(field.name));
  if (!out) return;
  if (!field.value.trim()) { out.textContent = ""; return; }
  const data = new FormData(form);
  data.set("field", field.name);
  try {
    const answer = await fetch(form.dataset.look, { method: "POST", body: new URLSearchParams(data), headers: { "X-Page": "1" } });
    const said = answer.ok ? await answer.json() : { problems: [], warnings: [] };
    out.textContent = [...said.problems, ...said.warnings].join(" ");
    out.className = said.problems.length ? "wrong" : "unusual";
  } catch { out.textContent = ""; }
}

// what changes elsewhere, on another device or by a command, is shown here within a second
async function refresh() {
  const old = main();
  if (busy) return;
  if (old.dataset.hold !== undefined) { document.querySelector(".stale").hidden = false; return; }
  busy += 1;
  try {
    const answer = await fetch(location.href, { headers: { "X-Page": "1" } });
    const at = document.activeElement && document.activeElement.id;
    const pick = document.activeElement && document.activeElement.selectionStart;
    show(await answer.text(), answer.url);
    const field = at && document.getElementById(at);
    if (field) {
      field.focus({ preventScroll: true });
      if (typeof pick === "number" && field.setSelectionRange) field.setSelectionRange(pick, pick);
    }
  } catch { /* the next news tries again */ } finally { busy -= 1; }
}

function listen() {
  const where = document.body.dataset.news;
  if (!where) return;
  const news = new EventSource(where);
  news.onmessage = (event) => {
    const said = JSON.parse(event.data);
    const bar = main().querySelector("progress");
    const work = bar && said.work[bar.dataset.work];
    if (work) {
      main().querySelector("[data-stage]").textContent = work[0];
      bar.value = work[1];
    }
    if (said.state !== main().dataset.state) refresh();
  };
  news.onerror = () => {
    if (news.readyState === EventSource.CLOSED) say("This page has ended. Start evenstack open again, and open the address that it prints.");
  };
  addEventListener("pagehide", () => news.close());
}

listen();
focus("");
// the disc to lay next lies at the bottom of the stack, which may be below the screen
const next = main().querySelector(".stack:not(.other) .next");
if (next && next.getBoundingClientRect().bottom > innerHeight) next.scrollIntoView({ block: "end" });

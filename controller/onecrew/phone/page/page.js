"use strict";

// The phone page. It draws what the engine says and sends what a thumb asks for, nothing more: it keeps no
// state of its own, and a command that could not be sent is never sent later. Text goes into the page by
// textContent alone, so names and notes are never markup.

const $ = (id) => document.getElementById(id);
const BACKOFF_MS = [250, 500, 1000, 2000, 4000];
const SILENCE_MS = 5000;
const REFUSAL_MS = 7000;
const SURE_MS = 3000;
const SECONDS = [3, 5, 10, 15, 20, 30];

let socket = null;
let attempts = 0;
let retry = 0;
let heardAt = 0;
let engine = { here: false, say: "" };
let show = { name: "", cues: [] };
let state = null;
let readings = [];
let stills = {}; // the run of stills as the page's process says it
let oneWhite = false;
let stillSeconds = 0;
let number = 0;
let seconds = 10;
let resting = false;
let counted = "go"; // what the countdown runs: go, take, or a cue's number
let unlockUntil = 0;
const asked = new Map(); // commands without an answer yet, by their number

// ── The link ────────────────────────────────────────────────────────────────────────────────────────

function connect() {
  clearTimeout(retry);
  if (socket) {
    return;
  }
  const link = new WebSocket(`ws://${location.host}/link`);
  socket = link;
  heardAt = Date.now();
  link.onmessage = (event) => {
    heardAt = Date.now();
    attempts = 0;
    receive(JSON.parse(event.data));
  };
  link.onclose = (event) => {
    if (socket === link) {
      lost(event.code);
    }
  };
}

function lost(code) {
  if (socket) {
    socket.onmessage = socket.onclose = null;
    socket.close();
    socket = null;
  }
  state = null;
  if (asked.size) {
    say(`Connection lost. Check whether this was done: ${[...asked.values()].join(", ")}.`);
  }
  asked.clear();
  if (code === 4001) {
    location.reload(); // forgotten: the page behind the reload says how to pair again
    return;
  }
  resting = code === 4002;
  if (resting) {
    draw(); // newer pages of this phone are open: they would push one another out for ever
    return;
  }
  const wait = BACKOFF_MS[Math.min(attempts, BACKOFF_MS.length - 1)];
  attempts += 1;
  if (attempts > 2) {
    lookWhetherForgotten();
  }
  retry = setTimeout(connect, wait * (0.75 + Math.random() / 2));
  draw();
}

async function lookWhetherForgotten() {
  try {
    const page = await fetch("/", { credentials: "same-origin" });
    if (page.status === 403) {
      location.reload();
    }
  } catch {
    // no answer: the page says so already
  }
}

function now() {
  if (!document.hidden) {
    attempts = 0;
    resting = false;
    connect();
  }
}

setInterval(() => {
  if (socket && Date.now() - heardAt > SILENCE_MS) {
    lost(0);
  }
}, 1000);
document.addEventListener("visibilitychange", now);
window.addEventListener("online", now);
window.addEventListener("pageshow", now);
$("link").addEventListener("click", now);

function receive(message) {
  if (message.reply) {
    answered(message.reply);
  }
  engine = message.engine || engine;
  show = message.show || show;
  state = message.state || state;
  stills = message.stills || stills;
  readings = message.readings ? message.readings.subjects : readings;
  if (message.engine && !engine.here) {
    state = null;
  }
  if (message.show) {
    drawLooks();
  }
  if (!message.beat) {
    draw();
  }
}

// ── Commands ────────────────────────────────────────────────────────────────────────────────────────

function isLive() {
  return Boolean(socket && socket.readyState === WebSocket.OPEN && engine.here && state);
}

function ask(command, words, button) {
  if (!isLive()) {
    return;
  }
  number += 1;
  asked.set(number, words);
  button.classList.add("sent");
  setTimeout(() => button.classList.remove("sent"), 250);
  hush();
  socket.send(JSON.stringify({ id: number, do: command }));
}

function answered(reply) {
  asked.delete(reply.id);
  if (reply.refused) {
    say(reply.refused);
    if ($("stills").open) {
      stills = { ...stills, result: reply.refused, trouble: reply.refused };
      drawStills();
    }
  }
}

let hushing = 0;
$("said").addEventListener("click", hush);

function say(sentence) {
  $("said").textContent = sentence;
  $("said").hidden = false;
  clearTimeout(hushing);
  hushing = setTimeout(hush, REFUSAL_MS);
}

function hush() {
  $("said").hidden = true;
}

function press(id, words, command) {
  $(id).addEventListener("click", () => {
    const asking = command();
    if (asking) {
      ask(asking, words(), $(id));
    }
  });
}

press("go", () => "go", () => ({ kind: "go" }));
press("back", () => "back", () => ({ kind: "back" }));
press("hold", () => "hold", () => ({ kind: "hold", on: !state?.held }));
press("blackout", () => "blackout", () => ({ kind: "blackout", on: !state?.blackout }));
press("lock", () => "lock", () => {
  if (state?.locked && Date.now() > unlockUntil) {
    unlockUntil = Date.now() + SURE_MS; // a pocket does not tap twice in the same place
    setTimeout(draw, SURE_MS + 50);
    draw();
    return null;
  }
  unlockUntil = 0;
  return { kind: "lock", on: !state?.locked };
});
press("countdown", () => "countdown", () => {
  return state?.countdown ? { kind: "cancel-countdown" } : { kind: "countdown", seconds, command: toRun() };
});
press("roll-camera", () => "take", () => {
  if (!state?.take?.running) {
    return { kind: "take-start" };
  }
  $("take-note").value = $("take-clip").value = "";
  open("end-take");
  return null;
});
for (const [id, good] of [["take-good", true], ["take-bad", false], ["take-done", null]]) {
  press(id, () => "end the take", () => {
    $("end-take").close();
    const clip = $("take-clip").value.trim();
    if (clip) {
      ask({ kind: "take-clip", name: clip }, `clip ${clip}`, $(id));
    }
    return { kind: "take-end", good, note: $("take-note").value.trim() };
  });
}
press("setup-start", () => "start a take", () => {
  $("new-setup").close();
  const setup = $("setup-name").value.trim();
  return setup ? { kind: "take-start", setup } : { kind: "take-start" };
});
$("set-setup").addEventListener("click", () => {
  $("setup-name").value = state?.take?.setup ?? "";
  open("new-setup");
});
$("seconds").addEventListener("click", () => {
  drawChoices();
  open("count-to");
});

function open(id) {
  if (isLive() && !$(id).open) {
    $(id).showModal();
  }
}

for (const dialog of document.querySelectorAll("dialog")) {
  dialog.addEventListener("click", (event) => {
    if (event.target === dialog) {
      dialog.close(); // a touch beside it: nothing under it is ever out of reach for long
    }
  });
}

// What a countdown can run. With a take, the next look runs as its camera starts.
function targets() {
  const take = state && state.next !== null ? [["take", "Take and go"]] : [];
  return [["go", "Go"], ...take, ...show.cues.map(([cueNumber, name]) => [cueNumber, cue(cueNumber, name)])];
}

function target() {
  return targets().find(([key]) => key === counted) || targets()[0];
}

function toRun() {
  const [key] = target();
  if (key === "take") {
    return { kind: "take-start", chain_from: state.next };
  }
  return key === "go" ? { kind: "go" } : { kind: "recall", cue: key };
}

function choice(words, isOn, choose, redraw = drawChoices) {
  const button = element("button", words);
  button.type = "button";
  button.classList.toggle("on", isOn);
  button.setAttribute("aria-pressed", String(isOn));
  button.addEventListener("click", () => {
    choose();
    redraw();
    draw();
  });
  return button;
}

function drawChoices() {
  const [now] = target();
  $("count-seconds").replaceChildren(
    ...SECONDS.map((one) => choice(`${one} s`, one === seconds, () => (seconds = one))),
  );
  $("count-what-to").replaceChildren(
    ...targets().map(([key, words]) => choice(words, key === now, () => (counted = key))),
  );
}

// ── Stills ──────────────────────────────────────────────────────────────────────────────────────────

const STILL_SECONDS = [0, 5, 10, 20];

$("stills-open").addEventListener("click", () => {
  drawStills();
  open("stills");
});
press("stills-start", () => "stills", () => {
  return { kind: "stills", key: "start", one_white: oneWhite, seconds: stillSeconds };
});
for (const key of ["next", "again", "less", "back", "skip", "stop"]) {
  press(`stills-${key}`, () => "stills", () => ({ kind: "stills", key }));
}

function drawStills() {
  const runs = stills.at !== undefined;
  $("stills-new").hidden = runs;
  $("stills-run").hidden = !runs;
  write("stills-result", stills.result || "");
  if (!runs) {
    const seconds = (one) => (one ? `${one} s each` : "I press");
    $("stills-whites").replaceChildren(
      choice("Two whites", !oneWhite, () => (oneWhite = false), drawStills),
      choice("One white", oneWhite, () => (oneWhite = true), drawStills),
    );
    $("stills-seconds").replaceChildren(
      ...STILL_SECONDS.map((one) => choice(seconds(one), one === stillSeconds, () => (stillSeconds = one), drawStills)),
    );
    return;
  }
  const counts = stills.left_s !== null && stills.phase === "counting down";
  write("stills-at", `${stills.at} of ${stills.of}`);
  write("stills-lamp", stills.lamp);
  write("stills-words", stills.words);
  write("stills-now", counts ? `in ${stills.left_s} s` : stills.phase);
  write("stills-trouble", stills.trouble);
  write("stills-next", stills.paused ? "Taken up again" : "Taken");
}

// ── Drawing ─────────────────────────────────────────────────────────────────────────────────────────

function write(id, text) {
  const place = $(id);
  if (place.textContent !== text) {
    place.textContent = text;
  }
}

function element(name, text) {
  const made = document.createElement(name);
  made.textContent = text;
  return made;
}

function cue(number, name) {
  return number === null ? "–" : `${number} ${name}`.trim();
}

function clock(elapsed) {
  return `${Math.floor(elapsed / 60)}:${String(Math.floor(elapsed % 60)).padStart(2, "0")}`;
}

function drawLooks() {
  const buttons = show.cues.map(([cueNumber, name]) => {
    const button = document.createElement("button");
    button.type = "button";
    button.dataset.cue = cueNumber;
    button.append(element("b", cueNumber), element("span", name));
    button.addEventListener("click", () => {
      ask({ kind: "recall", cue: cueNumber }, `recall ${cueNumber}`, button);
    });
    return button;
  });
  $("looks").replaceChildren(...(buttons.length ? buttons : [element("p", "No looks are stored yet.")]));
}

function linkWords() {
  if (resting) {
    return "Not connected: this phone has newer pages of the show open. Tap here to use this one.";
  }
  if (!socket || socket.readyState !== WebSocket.OPEN) {
    return "Not connected: no answer from the computer. Lamps hold what they were sent last. Trying again…";
  }
  if (!engine.here) {
    return "Not connected: the engine is away. Lamps hold what they were sent last. Waiting for it…";
  }
  if (!state) {
    return "Not connected yet. One moment…";
  }
  if (state.failing) {
    return `Connected · ${state.failing} of ${state.outputs} outputs fail`;
  }
  return "Connected";
}

function marks() {
  const strong = [];
  const said = [];
  if (state.locked) strong.push("LOCKED");
  if (state.blackout) strong.push("BLACKOUT");
  if (state.held) strong.push("HELD");
  if (state.comparing) strong.push("COMPARING");
  if (state.still !== null) strong.push("STILLS");
  if (state.raised !== null) strong.push(`RAISED ${state.raised}`);
  if (state.solo.length) strong.push(`SOLO ${state.solo.join(", ")}`);
  if (state.without.length) strong.push(`WITHOUT ${state.without.join(", ")}`);
  if (state.identify.length) strong.push(`IDENTIFY ${state.identify.join(", ")}`);
  if (state.unsaved) strong.push("NOT SAVED");
  if (state.fade) said.push(`fade ${state.fade[1].toFixed(1)} s`);
  if (state.auto_follow_left_s !== null) said.push(`auto-follow in ${Math.ceil(state.auto_follow_left_s)} s`);
  if (state.master < 1) said.push(`master ${Math.round(state.master * 100)} %`);
  if (state.lights.some((light) => light[3])) said.push("edited");
  return [strong, said];
}

function drawLamps() {
  const rows = state ? state.lights : [];
  const list = $("lamps");
  while (list.children.length > rows.length) {
    list.lastChild.remove();
  }
  while (list.children.length < rows.length) {
    const row = document.createElement("li");
    row.append(element("i", ""), element("span", ""), element("b", ""), trimmer("−", -1), trimmer("+", 1));
    list.append(row);
  }
  list.classList.toggle("trims", Boolean(show.trim));
  rows.forEach(([name, level, swatch, edited], place) => {
    const [colour, words, share, less, more] = list.children[place].children;
    colour.style.backgroundColor = level > 0 && /^#[0-9a-f]{6}$/i.test(swatch) ? swatch : "transparent";
    words.textContent = edited ? `${name} (edited)` : name;
    share.textContent = level > 0 && level < 0.1 ? `${(level * 100).toFixed(1)} %` : `${Math.round(level * 100)} %`;
    for (const button of [less, more]) {
      button.hidden = !show.trim;
      button.disabled = !isLive() || state.locked;
      button.dataset.lamp = name;
      button.setAttribute("aria-label", `${button.textContent}, ${name}`);
    }
  });
}

// A lamp's light in thirds of a stop, where the show lets a phone do that.
function trimmer(sign, direction) {
  const button = element("button", `${sign} ⅓ stop`);
  button.type = "button";
  button.addEventListener("click", () => {
    const lamp = button.dataset.lamp;
    ask({ kind: "set", fixtures: [lamp], stops_by: direction / 3 }, `trim ${lamp}`, button);
  });
  return button;
}

function drawReadings() {
  $("meter").hidden = !state || !readings.length;
  write("meter-where", `Forecast at ${readings.map((reading) => reading.subject).join(" and ")}`);
  $("readings").replaceChildren(
    ...readings.flatMap((reading) => [
      ...(readings.length > 1 ? [`${reading.subject}:`] : []),
      ...reading.lines,
    ].map((line) => element("li", line))),
  );
}

function draw() {
  const live = isLive();
  const shown = live ? state : null;
  const take = shown && shown.take;
  const locked = Boolean(shown && shown.locked);
  const counting = Boolean(shown && shown.countdown);
  document.body.classList.toggle("away", !live);
  document.body.classList.toggle("counting", counting);
  document.body.classList.toggle("rolling", Boolean(take && take.running));

  write("link", linkWords());
  write("show", show.name || "onecrew");
  document.title = show.name ? `${show.name} · onecrew` : "onecrew";
  write("setup", take && take.setup ? take.setup : "–");
  write("take", take ? String(take.number) : "–");
  write("end-take-title", take ? `End take ${take.number} of setup ${take.setup}` : "End take");
  write("roll-name", take && take.running ? "Rolling" : "Camera");
  write("roll", take && take.running ? clock(take.elapsed_s) : take ? "stopped" : "–");
  write("now", shown ? cue(shown.cue, shown.cue_name) : "?");
  write("next", shown ? cue(shown.next, shown.next_name) : "?");

  $("count").hidden = !counting;
  if (counting) {
    write("count-what", `${shown.countdown[1]} in`);
    write("count-left", String(Math.ceil(shown.countdown[0])));
  }
  $("fade-done").style.transform = `scaleX(${shown && shown.fade ? shown.fade[0] : 0})`;
  const [strong, said] = shown ? marks() : [[], []];
  $("marks").replaceChildren(...strong.map((word) => element("strong", word)), said.join(" · "));

  for (const button of document.querySelectorAll("#looks button")) {
    const here = Boolean(shown && button.dataset.cue === shown.cue);
    button.disabled = !live || locked;
    button.classList.toggle("on", here);
    button.setAttribute("aria-pressed", String(here));
  }
  $("go").disabled = !live || locked || shown.next === null;
  $("back").disabled = !live || locked;
  $("hold").disabled = !live || locked;
  $("countdown").disabled = !live || locked;
  $("seconds").disabled = !live || counting;
  $("set-setup").disabled = !live || Boolean(take && take.running);
  if (!live || !(take && take.running)) {
    $("end-take").close();
  }
  $("stills-open").disabled = !live;
  if (live && $("stills").open) {
    drawStills();
  }
  if (!live) {
    $("stills").close();
    $("new-setup").close();
    $("count-to").close();
  }
  for (const id of ["blackout", "lock", "roll-camera"]) {
    $(id).disabled = !live;
  }
  write("go-what", shown ? (shown.next === null ? "no cue after this one" : cue(shown.next, shown.next_name)) : "");
  switched("hold", shown && shown.held, "Hold", "Release");
  switched("blackout", shown && shown.blackout, "Blackout", "Light again");
  switched("lock", locked, "Lock", Date.now() < unlockUntil ? "Tap again to unlock" : "Unlock");
  $("lock").classList.toggle("sure", locked && Date.now() < unlockUntil);
  switched("countdown", counting, `${target()[1]} in ${seconds} s`, "Cancel countdown");
  switched("roll-camera", take && take.running, "Start take", "End take");
  write("seconds-left", `${seconds} s`);
  drawReadings();
  drawLamps();
}

function switched(id, on, off, released) {
  write(id, on ? released : off);
  $(id).classList.toggle("on", Boolean(on));
}

if (location.hash) {
  history.replaceState(null, "", location.pathname); // a phone that is paired needs no code
}
drawLooks();
draw();
connect();

"use strict";
// Superposition in linear light: one layer a lamp at full output, their sum, and a table to sRGB.
// A slider changes one layer alone, so that the picture follows the hand.
const $ = (id) => document.getElementById(id);
const STEPS = 4096;
const PRESENT_EVERY_MS = 1000;
const GONE = "nothing answers any more: start onecrew match --page again and open the address that it prints";
let data, layers = [], total, regions = [], asking = null, waiting = 0, shown = "", known = "";
const settings = {}, moved = new Set();

const say = (text) => { $("said").textContent = text; };

async function ask(path, body) {
  const answer = await fetch(path, body === undefined ? {} : {
    method: "POST", headers: {"Content-Type": "application/json"}, body: JSON.stringify(body)}).catch(() => null);
  if (!answer) throw new Error(GONE);
  const said = await answer.json();
  if (said.refused) throw new Error(said.refused);
  return said;
}

// What goes wrong is said until the next work is done.
async function work(doing) {
  try { await doing(); } catch (error) { say(String(error.message)); }
}

async function light(path) {
  const answer = await fetch(path);
  const scale = Number(answer.headers.get("X-Scale"));
  const whole = new Uint16Array(await answer.arrayBuffer());
  const out = new Float32Array(whole.length);
  for (let i = 0; i < whole.length; i++) out[i] = whole[i] * scale;
  return out;
}

// sRGB, IEC 61966-2-1, over the square root of light: even steps where the eye and the curve need them.
const table = new Uint8ClampedArray(STEPS + 1);
for (let i = 0; i <= STEPS; i++) {
  const x = (i / STEPS) ** 2;
  table[i] = Math.round(255 * (x <= 0.0031308 ? 12.92 * x : 1.055 * x ** (1 / 2.4) - 0.055));
}

function draw(canvas, sum, exposure) {
  const pixels = canvas.image || (canvas.image = canvas.getContext("2d").createImageData(canvas.width, canvas.height));
  const out = pixels.data, gain = 2 ** exposure;
  for (let i = 0, j = 0; i < sum.length; i += 3, j += 4) {
    for (let c = 0; c < 3; c++) {
      const x = sum[i + c] * gain;
      out[j + c] = table[x <= 0 ? 0 : x >= 1 ? STEPS : (Math.sqrt(x) * STEPS) | 0];
    }
    out[j + 3] = 255;
  }
  canvas.getContext("2d").putImageData(pixels, 0, 0);
}

// Puts a lamp's light at full output into its layer; the sum loses `before` of what was there and gains `after`.
// A white lies between two stills at most. One pass over the picture: a slider must follow the hand.
function unit(lamp, mired, layer, before, after) {
  const whites = lamp.whites;
  let at = 0;
  while (at + 1 < whites.length && Math.abs(whites[at + 1].mired - mired) <= Math.abs(whites[at].mired - mired)) at++;
  const {shares, tint} = whites[at];
  const used = shares.map((share, i) => [share, lamp.light[i]]).filter(([share]) => share > 0);
  const [p, one] = used[0] || [0, lamp.light[0]], [q, other] = used[1] || [0, one];
  const [[a, b, c], [d, e, f], [g, h, k]] = tint;
  for (let i = 0; i < layer.length; i += 3) {
    const r = p * one[i] + q * other[i];
    const s = p * one[i + 1] + q * other[i + 1];
    const t = p * one[i + 2] + q * other[i + 2];
    const x = a * r + b * s + c * t, y = d * r + e * s + f * t, z = g * r + h * s + k * t;
    total[i] += after * x - before * layer[i];
    total[i + 1] += after * y - before * layer[i + 1];
    total[i + 2] += after * z - before * layer[i + 2];
    layer[i] = x; layer[i + 1] = y; layer[i + 2] = z;
  }
  return layer;
}

function add(layer, by) { for (let i = 0; i < total.length; i++) total[i] += by * layer[i]; }

function change(n, output, mired) {
  const started = performance.now(), lamp = data.lamps[n], own = settings[lamp.id];
  if (mired !== own.mired) {
    unit(lamp, mired, layers[n], own.output, output);
  } else add(layers[n], output - own.output);
  Object.assign(own, {output, mired, cct_k: mired === own.mired ? own.cct_k : null});
  draw($("predicted"), total, settings.exposure);
  window.took = performance.now() - started;
  label(n);
  if ($("live").checked) moved.add(lamp.id);
  tellSoon();
}

function tellSoon() {
  clearTimeout(waiting);
  waiting = setTimeout(told, 120);
}

const told = () => work(async () => {
  const lamps = [...moved], before = $("said").textContent;
  moved.clear();
  for (const lamp of lamps) await ask("send", {lamp, ...settings[lamp]});
  const asked = data.lamps.map(({id}) => settings[id].mired), answer = await ask("predict", now());
  showRegions(answer.regions);
  data.lamps.forEach(({id}, n) => {
    if (settings[id].mired !== asked[n]) return;  // it was moved meanwhile
    settings[id].cct_k = answer.cct_k[id];
    label(n);
  });
  if (!asking && $("said").textContent === before) say("");  // what was refused meanwhile stays
});

const now = () => ({
  settings: Object.fromEntries(data.lamps.map((lamp) => [lamp.id, settings[lamp.id]])),
  exposure: settings.exposure, regions});

function label(n) {
  const lamp = data.lamps[n], own = settings[lamp.id], row = $("lamps").tBodies[0].rows[n];
  row.cells[2].textContent = own.output <= 0 ? "off" : `${(100 * own.output).toPrecision(3)} % of its light`;
  row.cells[4].textContent = lamp.whites.length > 1 ? `${Math.round(own.cct_k ?? 1e6 / own.mired)} K` : "";
}

function rows() {
  const body = $("lamps").tBodies[0];
  body.replaceChildren();
  data.lamps.forEach((lamp, n) => {
    const row = body.insertRow(), own = settings[lamp.id];
    row.insertCell().textContent = lamp.id;
    const level = slider(row, -12, 0, 0.05, own.output > 0 ? Math.max(Math.log2(own.output), -12) : -12, `${lamp.id} level`);
    row.insertCell();
    const ends = [lamp.whites[0].mired, lamp.whites[lamp.whites.length - 1].mired];
    const white = slider(row, ends[0], ends[1], 1, own.mired, `${lamp.id} white`);
    white.hidden = lamp.whites.length < 2;
    row.insertCell();
    const found = data.result.lamps[lamp.id], last = row.insertCell();
    last.textContent = found.sure ? "" : "not sure"; last.className = "unsure";
    level.id = `level-${n}`; white.id = `white-${n}`;
    // Each keeps what the other has: a slider's steps are coarser than what was found.
    level.oninput = () => change(n, Number(level.value) <= -12 ? 0 : 2 ** Number(level.value), own.mired);
    white.oninput = () => change(n, own.output, Number(white.value));
    label(n);
  });
}

function slider(row, min, max, step, value, name) {
  const one = document.createElement("input");
  Object.assign(one, {type: "range", min, max, step, value});
  one.setAttribute("aria-label", name);
  row.insertCell().append(one);
  return one;
}

function showRegions(found) {
  const body = $("regions").tBodies[0];
  body.replaceChildren();
  for (const [name, one] of Object.entries(found)) {
    const row = body.insertRow();
    for (const text of [name, `${one.stops >= 0 ? "+" : ""}${one.stops.toFixed(2)}`, one.delta_e.toFixed(1), one.note || ""])
      row.insertCell().textContent = text;
    const away = Object.assign(document.createElement("button"), {type: "button", textContent: "Remove"});
    away.setAttribute("aria-label", `Remove ${name}`);
    away.onclick = () => { regions = regions.filter((other) => other.name !== name); boxes(); told(); };
    row.insertCell().append(away);
  }
}

function boxes() {
  document.querySelectorAll(".marked").forEach((one) => one.remove());
  for (const region of regions)
    for (const [frame, [x, y, w, h]] of [["mine", region.own], ["theirs", region.reference]]) {
      const box = document.createElement("div");
      box.className = "marked"; box.textContent = region.name;
      Object.assign(box.style, {left: `${100 * x}%`, top: `${100 * y}%`, width: `${100 * w}%`, height: `${100 * h}%`});
      $(frame).append(box);
    }
}

function place(event, frame) {
  const box = $(frame).getBoundingClientRect(), size = [0.06, 0.06 * box.width / box.height];
  const at = (value, edge) => Math.min(Math.max(value - edge / 2, 0), 1 - edge);
  return [at((event.clientX - box.left) / box.width, size[0]), at((event.clientY - box.top) / box.height, size[1]), ...size];
}

function tapped(event, frame) {
  if (!asking || asking.frame !== frame) return;
  $(frame).classList.remove("asking");
  if (frame === "mine") {
    asking = {frame: "theirs", name: asking.name, own: place(event, frame)};
    $("theirs").classList.add("asking");
    say(`tap ${asking.name} on the reference`);
    return;
  }
  regions = regions.filter((one) => one.name !== asking.name);
  regions.push({name: asking.name, own: asking.own, reference: place(event, frame)});
  asking = null;
  say("");
  boxes();
  told();
}

async function take(result) {
  data.result = result;
  total = Float32Array.from(data.ambient);
  settings.exposure = result.exposure_stops;
  data.lamps.forEach((lamp, n) => {
    const found = result.lamps[lamp.id], whites = lamp.whites;
    const mired = found.asked_cct_k ? 1e6 / found.asked_cct_k : whites[0].mired;
    settings[lamp.id] = {output: found.output, mired, cct_k: found.cct_k};  // the white that leaves
    layers[n] = unit(lamp, mired, new Float32Array(total.length), 0, found.output);
  });
  $("exposure").value = settings.exposure;
  exposed();
  rows();
  showRegions(result.regions);
  $("notes").replaceChildren(...result.notes.map((note) => Object.assign(document.createElement("li"), {textContent: note})));
}

function exposed() {
  settings.exposure = Number($("exposure").value);
  $("exposed").textContent = `${settings.exposure >= 0 ? "+" : ""}${settings.exposure.toFixed(2)} stops`;
  draw($("predicted"), total, settings.exposure);
}

function wipe() {
  const on = $("wiping").checked, image = $("reference"), canvas = $("predicted");
  $("wipe").hidden = !on;
  document.querySelector("#wiped")?.remove();
  if (!on) return;
  const over = image.cloneNode();
  over.id = "wiped"; over.className = "over";
  over.style.height = "100%";
  over.style.clipPath = `inset(0 ${100 - $("wipe").value}% 0 0)`;
  $("mine").append(over);
}

function press(id, doing) {
  $(id).onclick = async () => {
    $(id).disabled = true;
    await work(doing);
    $(id).disabled = false;
  };
}

// The picture of what the lamps give now, where an engine says so.
function present(lights) {
  $("now").hidden = !lights;
  const state = JSON.stringify([lights, settings.exposure]);
  if (!lights || state === shown) return;
  shown = state;
  const sum = Float32Array.from(data.ambient);
  for (const lamp of data.lamps) {
    const own = lights[lamp.id], layer = new Float32Array(sum.length);
    unit(lamp, own.mired ?? lamp.whites[0].mired, layer, 0, 0);
    for (let i = 0; i < sum.length; i++) sum[i] += own.output * layer[i];
  }
  draw($("present"), sum, settings.exposure);
}

// Regions that were marked or removed in another window: here they would be lost with the next thing that is sent.
function adopt(marked) {
  const state = JSON.stringify(marked);
  if (state === known) return;
  known = state;
  if (state === JSON.stringify(regions)) return;
  regions = marked;
  boxes();
  told();
}

async function look() {
  const answer = await ask("present");
  present(answer.present);
  adopt(answer.regions);
}

async function begin() {
  data = await ask("data");
  regions = data.regions;
  known = JSON.stringify(regions);
  $("reference").src = "reference.jpg";
  for (const canvas of [$("predicted"), $("present")]) [canvas.width, canvas.height] = data.size;
  data.ambient = await light("light/ambient");
  for (const [n, lamp] of data.lamps.entries()) {
    lamp.light = [];
    for (let i = 0; i < lamp.stills; i++) lamp.light.push(await light(`light/${n}/${i}`));
  }
  total = new Float32Array(data.ambient.length);
  await take(data.result);
  boxes();
  await told();  // they may have been marked or removed since what was found last
  present(data.present);
  setInterval(() => document.hidden || work(look), PRESENT_EVERY_MS);
  $("exposure").oninput = () => { exposed(); tellSoon(); };
  $("wiping").onchange = $("wipe").oninput = wipe;
  $("mine").onclick = (event) => tapped(event, "mine");
  $("theirs").onclick = (event) => tapped(event, "theirs");
  press("mark", async () => {
    asking = {frame: "mine", name: $("name").value.trim() || `region ${regions.length + 1}`};
    $("theirs").classList.remove("asking");
    $("mine").classList.add("asking");
    say(`tap ${asking.name} on the prediction`);
  });
  press("solve", async () => { say("solving"); await take(await ask("solve", {regions})); say(""); });
  let refused = "";  // what was said of the cue that is there: another one is not replaced in its place
  const store = async (replace) => {
    $("replace").hidden = true;
    try {
      say((await ask("store", {number: $("number").value, replace, ...now()})).done);
    } catch (error) {
      refused = String(error.message);
      $("replace").hidden = !refused.includes("or replace its look");
      throw error;
    }
  };
  press("store", () => store(""));
  press("replace", () => store(refused));
  $("number").addEventListener("input", () => { $("replace").hidden = true; });
  document.body.dataset.ready = "yes";
}

begin().catch((error) => say(String(error.message)));

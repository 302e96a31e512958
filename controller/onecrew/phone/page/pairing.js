"use strict";

// Pairs this phone with the code that was scanned (behind the # of the address, which is never sent to a
// server by itself) or typed. A code is good once, so it is claimed by a deliberate request alone.

const said = document.getElementById("said");
const field = document.getElementById("code");
const button = document.getElementById("enter");

function say(sentence) {
  said.textContent = sentence;
  said.hidden = !sentence;
}

async function claim(code) {
  button.disabled = true;
  say("");
  try {
    const reply = await fetch("pair", {
      method: "POST",
      headers: { "Content-Type": "application/json" },
      body: JSON.stringify({ code }),
      credentials: "same-origin",
    });
    if (reply.ok) {
      location.replace("/");
      return;
    }
    say((await reply.json()).refused);
  } catch {
    say("No answer from the computer. Is the phone in the same network? Try again.");
  }
  button.disabled = false;
}

function scanned() {
  const code = decodeURIComponent(location.hash.slice(1));
  history.replaceState(null, "", location.pathname); // the code does not stay in the history
  if (code) {
    field.value = code;
    claim(code);
  }
}

document.getElementById("pair").addEventListener("submit", (event) => {
  event.preventDefault();
  if (field.value.trim()) {
    claim(field.value);
  } else {
    say("Type the code first.");
  }
});
window.addEventListener("hashchange", scanned);
scanned();

// Sends the form at every change and puts the answer in its place; without this file the form is sent by its button.
"use strict";
const form = document.getElementById("plan");
const stop = document.getElementById("stop");
const part = (id) => document.getElementById(id);
let followed = !new URLSearchParams(location.search).get("stop"); // the slider follows the advice until it is moved
let busy = false;
let again = false;

function query() {
  const told = new URLSearchParams(new FormData(form));
  for (const [key, text] of [...told]) {
    if (!text.trim() || (key === "deg" && text === "C") || (key === "vol" && text === "mL")) told.delete(key);
  }
  if (followed) told.delete("stop");
  return told.toString();
}

function showFaults(faults) {
  for (const place of form.querySelectorAll(".fault")) {
    const key = place.id.replace(/-fault$/, "");
    const words = faults[key === "form" ? "" : key] || "";
    place.textContent = words;
    const input = part(key);
    if (input) {
      input.toggleAttribute("aria-invalid", false);
      if (words) input.setAttribute("aria-invalid", "true");
      input.closest(".field").classList.toggle("at-fault", Boolean(words));
      const folded = words && input.closest("details");
      if (folded) folded.open = true;
    }
  }
}

function show(got) {
  part("answer").innerHTML = got.html;
  showFaults(got.faults);
  const has = got.low !== undefined;
  part("slide").hidden = !has;
  stop.disabled = !has;
  if (has) {
    stop.min = got.low;
    stop.max = got.high;
    stop.step = got.step;
    if (document.activeElement !== stop || followed) stop.value = got.stop;
    stop.setAttribute("aria-valuetext", got.shown);
    part("shown").textContent = got.shown;
  }
  part("said").textContent = has ? got.said : Object.values(got.faults).join(" ");
  history.replaceState(null, "", "/?" + got.query);
  part("save").href = "/batch.toml?" + got.query;
  const back = new URLSearchParams(got.query);
  for (const key of ["stop", "to", "remove"]) back.delete(key);
  part("to-advice").href = "/?" + back;
}

async function ask() {
  if (busy) {
    again = true; // one request at a time; the last state of the form wins
    return;
  }
  busy = true;
  const slow = setTimeout(() => {
    part("answer").setAttribute("aria-busy", "true");
    part("said").textContent = "Working it out.";
  }, 700);
  try {
    do {
      again = false;
      const reply = await fetch("/answer?" + query());
      if (reply.ok) show(await reply.json());
      else part("said").textContent = "The page gave no answer: " + (await reply.text());
    } while (again);
  } catch {
    part("form-fault").textContent = "The page's server does not answer any more: start it again with 'crystal page'.";
  }
  clearTimeout(slow);
  part("answer").removeAttribute("aria-busy");
  busy = false;
}

form.addEventListener("submit", (event) => { event.preventDefault(); ask(); });
form.addEventListener("change", (event) => { if (event.target !== stop) ask(); });
stop.addEventListener("input", () => {
  followed = false;
  part("to").value = "";
  part("remove").value = "";
  ask();
});
part("to-advice").addEventListener("click", (event) => {
  event.preventDefault();
  followed = true;
  part("to").value = "";
  part("remove").value = "";
  ask();
});

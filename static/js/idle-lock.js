// Locks the screen when nobody has touched any page of it for a while; until then tells the server that somebody is here.
// Markup: <form method="post" action="(lock)" data-idle-lock="300" data-still-here="(address)">

const form = document.querySelector("[data-idle-lock]");
const limit = Number(form?.dataset.idleLock) * 1000;
const TELL_EVERY = 60000;
const channel = form && new BroadcastChannel("casebook-activity");
let touchedAt = Date.now();
let toldAt = Date.now();

function told() {
  toldAt = Date.now();
  const token = form.querySelector("[name=csrfmiddlewaretoken]").value;
  fetch(form.dataset.stillHere, { method: "POST", headers: { "X-CSRFToken": token } });
}

function touched() {
  touchedAt = Date.now();
  if (touchedAt - toldAt < TELL_EVERY) return;
  channel.postMessage("touched");
  told();
}

function lock() {
  const back = document.createElement("input");
  back.type = "hidden";
  back.name = "next";
  back.value = location.pathname + location.search;
  form.append(back);
  form.submit();
}

if (form) {
  for (const kind of ["pointerdown", "keydown", "wheel", "touchstart"]) addEventListener(kind, touched, { passive: true });
  channel.addEventListener("message", () => (touchedAt = toldAt = Date.now()));
  // By the clock and not by one long timer: a computer that slept wakes up locked.
  setInterval(() => Date.now() - touchedAt >= limit && lock(), 5000);
}

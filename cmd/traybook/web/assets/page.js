"use strict";
// A page works without this. Here it only looks whether the program behind it is still the same and what runs, and leads on from
// the door.
(function () {
  const on = document.getElementById("on");
  if (on) { location.replace("/"); return; }
  const build = document.documentElement.dataset.build;
  document.addEventListener("visibilitychange", function () {
    if (document.visibilityState !== "visible") { return; }
    fetch("/alive").then(function (r) { return r.ok ? r.text() : build; }).then(function (now) {
      document.getElementById("stale").hidden = now === build;
    }).catch(function () { /* the program is away; the next press says so */ });
  });
  const runs = document.getElementById("runs");
  function look() {
    if (document.visibilityState !== "visible") { return; }
    fetch("/runs").then(function (r) { return r.ok ? r.text() : null; }).then(function (html) {
      if (html !== null && html !== runs.innerHTML) { runs.innerHTML = html; }
    }).catch(function () { /* what ran still runs; the page looks again */ });
  }
  if (runs) { look(); setInterval(look, 2000); document.addEventListener("visibilitychange", look); }
})();

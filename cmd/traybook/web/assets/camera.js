"use strict";
// The page of the run. It knows no rule of the trade: what there is to say and to press comes drawn from the server. Here it
// counts by the time of day, sounds, and keeps what was pressed until the book has it. Each press has an id and its time made
// here, and is handed over in its order until it is answered; what it writes is known by that id, so that it is taken once.
(function () {
  const form = document.getElementById("camera");
  if (!form) { return; }
  const onlyRead = form.dataset.readonly === "1";
  const keptLine = document.getElementById("kept"), asideList = document.getElementById("aside"), soundButton = document.getElementById("sound");
  const store = "traybook-camera";
  const state = load();
  let view = JSON.parse(form.dataset.first);
  view.html = document.getElementById("run").outerHTML;
  let ahead = null;     // what lies straight ahead of a view, as the server dreamed it
  let node = -1;        // where in it the page stands, -1 for nowhere
  let before = [];      // the presses that led to what is asked
  let waiting = false;  // for the answer to a press of which nothing lies ahead
  let sending = false, off = "", seen = view.seen, shownLater = false, chosen = {};

  function load() {
    let s = null;
    try { s = JSON.parse(localStorage.getItem(store)); } catch (e) { /* it begins anew */ }
    return Object.assign({ queue: [], aside: [], offset: null, sound: "calls" }, s);
  }
  function save() {
    try { localStorage.setItem(store, JSON.stringify(state)); } catch (e) { /* it is kept as long as the page is open */ }
  }

  // keep keeps the view and what lies ahead of it, for a page that is opened while the book is out of reach.
  function keep() {
    try {
      localStorage.setItem(store + "-view", JSON.stringify({ view: view, ahead: ahead, node: node, before: before, seen: seen }));
    } catch (e) { /* it is kept as long as the page is open */ }
  }
  // lastKept is the view that was shown last, where the page that was drawn has not seen more of the book. The times of the two
  // would not do: they are of two clocks, and a page that opens from the cache may have been drawn a moment later.
  function lastKept() {
    let k = null;
    try { k = JSON.parse(localStorage.getItem(store + "-view")); } catch (e) { /* there is none */ }
    return k && k.view && k.seen >= view.seen && k.view.zone !== undefined ? k : null;
  }

  // The clock of the server, told by its answers: of the latest ones the one that was under way the least counts.
  let trips = [];
  function measure(now, sent) {
    const got = Date.now(), trip = got - sent;
    trips.push({ trip: trip, offset: now - (sent + got) / 2, at: got });
    trips = trips.filter(function (t) { return got - t.at < 60000; }).slice(-20);
    const best = trips.reduce(function (a, b) { return b.trip < a.trip ? b : a; });
    const was = state.offset;
    state.offset = Math.abs(best.offset) <= best.trip / 2 ? 0 : best.offset; // what the way of the answer may explain is no difference
    if (was === null || Math.abs(was - state.offset) > 10) { save(); } // for a page that opens while the book is out of reach
  }
  function now() { return Math.round(Date.now() + state.offset); }

  function pad(n) { return String(n).padStart(2, "0"); }
  // figure writes a time as the timers do: 4.0, 59.9, 1:30.
  function figure(ms) {
    if (ms < 60000) { const t = Math.floor(ms / 100); return Math.floor(t / 10) + "." + t % 10; }
    const s = Math.floor(ms / 1000);
    return s >= 3600 ? Math.floor(s / 3600) + ":" + pad(Math.floor(s / 60) % 60) + ":" + pad(s % 60) : Math.floor(s / 60) + ":" + pad(s % 60);
  }
  // spoken writes how long something runs as the server does: 58 s, 1 min 51 s, 2 h 5 min.
  function spoken(ms) {
    const s = Math.round(ms / 1000);
    if (s < 60) { return s + " s"; }
    if (s < 3600) { return Math.floor(s / 60) + " min" + (s % 60 ? " " + s % 60 + " s" : ""); }
    const m = Math.round(s / 60);
    return Math.floor(m / 60) + " h" + (m % 60 ? " " + m % 60 + " min" : "");
  }
  function timeOfDay(ms) {
    const d = new Date(ms + view.zone * 1000);
    return pad(d.getUTCHours()) + ":" + pad(d.getUTCMinutes()) + ":" + pad(d.getUTCSeconds());
  }
  function sentence(c, at) {
    if (!c.text[1] || at < c.began) { return c.text[0]; }
    return c.text[0] + timeOfDay(c.began) + c.text[1] + spoken(at - c.began) + c.text[2];
  }

  // show puts a view on the page. Where a hand has begun to choose or to type, and the same is asked, it goes on.
  function show(v) {
    const same = v.hand === view.hand && v.open === view.open;
    view = v;
    if (v.zone === undefined) { view.zone = show.zone; } else { show.zone = v.zone; }
    if (v.seen) { seen = v.seen; }
    shownLater = false;
    if (!same) { chosen = {}; }
    draw(v.html);
    keep();
  }
  show.zone = view.zone;
  function draw(html) {
    const old = document.getElementById("run"), typed = document.getElementById("line");
    const text = typed ? typed.value : "", open = typed && document.getElementById("typed").open, focus = document.activeElement && document.activeElement.id;
    old.outerHTML = html;
    dress();
    const line = document.getElementById("line");
    if (line && open && text && !line.value) { line.value = text; document.getElementById("typed").open = true; }
    if (focus && document.getElementById(focus)) { document.getElementById(focus).focus({ preventScroll: true }); }
    tick();
  }
  // dress makes the steppers work, which without a script are a field to type into.
  function dress() {
    const run = document.getElementById("run");
    run.querySelectorAll(".steppers, .stepper").forEach(function (e) { e.hidden = false; });
    const typed = document.getElementById("typed");
    if (typed) { typed.open = document.getElementById("line").value !== ""; }
    run.querySelectorAll(".stepper").forEach(function (e) {
      const at = chosen[e.dataset.name];
      if (at !== undefined && e.id !== "aperture") { step(e, at); }
    });
    label();
    refresh();
  }
  function words(e) { return e.dataset.words ? e.dataset.words.split("|") : []; }
  function step(e, at) {
    const w = words(e);
    at = Math.max(0, Math.min(w.length - 1, at));
    e.dataset.at = at;
    e.querySelector("output").textContent = around(e);
  }
  function around(e) { return e.dataset.around.split("|").join(words(e)[e.dataset.at] || ""); }
  function line() {
    return Array.from(document.querySelectorAll(".steppers .stepper")).map(function (e) { return words(e)[e.dataset.at] || ""; }).join(" ").trim();
  }
  function shownLine() { return Array.from(document.querySelectorAll(".steppers .stepper")).map(around).join(", "); }
  function label() {
    const next = document.getElementById("next");
    if (next && next.value === "line") {
      const typed = document.getElementById("line"), text = typed && document.getElementById("typed").open && typed.value.trim();
      next.textContent = "Write " + (text || shownLine());
      if (!text) { next.disabled = waiting || !line(); return; }
      next.disabled = waiting;
    }
  }

  // refresh says what is not yet in the book, and lets nothing be pressed that has to wait for an answer.
  function refresh() {
    const n = state.queue.filter(function (p) { return p.writes !== false; }).length; // going on is no act
    keptLine.hidden = !(n && (off || n > 1)) && !off;
    keptLine.textContent = (off ? off + " " : "") + (n ? n + (n === 1 ? " act" : " acts") + " not yet in the book." + (waiting ? " What comes next is known when it is." : "") : "");
    document.querySelectorAll("#run .key, #aperture button").forEach(function (b) {
      if (b.value === "line" && !line() && !(document.getElementById("line") || {}).value) { return; }
      b.disabled = waiting || Boolean(off) && !reachable(b);
    });
    const list = state.aside.map(function (a, i) {
      const p = document.createElement("p"), b = document.createElement("button");
      p.className = "notice wrong";
      p.append(timeOfDay(a.at) + ", " + a.what + ": " + a.why + " ", b);
      b.textContent = "Set it aside"; b.type = "button"; b.className = "quiet put-away";
      b.addEventListener("click", function () { state.aside.splice(i, 1); save(); refresh(); });
      return p;
    });
    asideList.replaceChildren.apply(asideList, list);
  }

  // edge finds where a key leads from here as far as it is known ahead.
  function edge(key, at) {
    if (!ahead || node < 0) { return null; }
    const past = view.clock ? (at - view.clock.began) / 1000 : 0;
    return (ahead[node].edges || []).find(function (e) {
      return e.key === key && (!view.clock || view.open || (e.from === undefined || past >= e.from) && (e.to === undefined || past < e.to));
    }) || null;
  }
  function reachable(b) { return b.id === "next" || b.id === "other" || edge(b.value || "f", now()) !== null; }

  function newID() {
    const raw = new Uint8Array(16);
    crypto.getRandomValues(raw);
    return Array.from(raw, function (b) { return b.toString(16).padStart(2, "0"); }).join("");
  }

  // press takes a press: it is kept before anything else is done with it.
  function press(key, text, what) {
    if (waiting || onlyRead) { return; }
    unlockSound();
    const at = now();
    const p = { id: newID(), at: at, hand: view.hand, before: view.open ? before.map(bare) : [] };
    if (key === "line") { p.line = text; } else if (key === "f") { p.f = Number(text); } else { p.key = key; }
    if (view.clock) { p.began = view.clock.pressed; }
    p.what = what; p.waits = true;
    state.queue.push(p);
    save();
    const e = edge(key, at);
    if (e) { p.writes = Boolean(e.writes); p.waits = false; save(); }
    if (e) { goTo(e.node, p); } else { waiting = true; }
    refresh();
    send();
  }
  function bare(p) { return { key: p.key, line: p.line, f: p.f, at: p.at }; }

  // goTo shows what lies ahead as it was dreamed; clocks that begin with this press begin now.
  function goTo(to, p) {
    const from = view, v = JSON.parse(JSON.stringify(ahead[to]));
    node = to;
    before = v.open ? before.concat([p]) : [];
    const known = {};
    (from.also || []).concat(from.clock ? [from.clock] : []).forEach(function (c) { known[c.key] = c; });
    (v.also || []).concat(v.clock ? [v.clock] : []).forEach(function (c) {
      const lead = c.began - c.pressed, was = known[c.key];
      c.pressed = was ? was.pressed : p.at;
      c.began = c.pressed + lead;
    });
    v.stopped = p.at;
    show(v);
  }

  function notFit(p, why) { state.aside.push({ at: p.at, what: p.what, why: why }); }

  // send hands over what is kept, in its order.
  function send() {
    if (sending || !state.queue.length) { return; }
    sending = true;
    const p = state.queue[0], sent = Date.now();
    fetchSoon("/camera/press", { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify({ id: p.id, key: p.key, line: p.line, f: p.f, at: p.at, hand: p.hand, before: p.before, began: p.began }) })
      .then(function (r) { return answered(r, sent); })
      .then(function (a) {
        sending = false;
        if (!a) { refresh(); return again(); }
        off = "";
        state.queue.shift();
        const last = !state.queue.length;
        if (a.moved && (!last || !a.hand || sent - p.at + state.offset > 3000) || a.refused && !last) {
          notFit(p, (a.moved || a.refused) + "; not written");
        } else if (p.writes && !a.wrote && !a.known && !last) {
          notFit(p, "something was asked, and not answered; not written");
        }
        save();
        if (!last) { refresh(); return send(); }
        waiting = false;
        if (a.hand) {
          before = a.open ? p.before.concat([bare(p)]) : [];
          land(a);
        }
        refresh();
      }).catch(function () { sending = false; cut(); });
  }
  // A hand that is on its way down presses what it saw: what is drawn meanwhile waits until it is up.
  let down = false, held = null;
  function up() {
    setTimeout(function () { // after the press itself
      const a = held;
      down = false;
      held = null;
      if (a && !state.queue.length && !sending) { land(a); }
    }, 0);
  }
  form.addEventListener("pointerdown", function () { down = true; });
  ["pointerup", "pointercancel", "blur"].forEach(function (t) { window.addEventListener(t, up); });

  // land shows the server's own view. What was known ahead of it stays known.
  function land(a) {
    if (down) { held = a; return; }
    node = ahead ? ahead.findIndex(function (n) { return n.hand === a.hand && Boolean(n.open) === Boolean(a.open); }) : -1;
    show(a);
    lookAhead();
  }
  function fetchSoon(url, o) {
    const c = new AbortController(), t = setTimeout(function () { c.abort(); }, 8000);
    return fetch(url, Object.assign({ signal: c.signal, cache: "no-store", redirect: "error" }, o)).finally(function () { clearTimeout(t); });
  }
  // answered reads an answer; null says that it is to be tried again.
  function answered(r, sent) {
    if (r.status === 401 || r.status === 403 && !onlyRead) {
      off = r.status === 401 ? "The program was started anew: open the address that the terminal shows." : "The book is only to be read here.";
      return null;
    }
    if (r.status === 204) {
      measure(Number(r.headers.get("Traybook-Now")), sent);
      return { none: true };
    }
    return r.json().then(function (a) {
      measure(a.now, sent);
      stale(a.build);
      if (r.status === 400) { a.moved = a.refused; return a; }
      if (!r.ok) { off = a.refused + "."; return null; }
      return a;
    });
  }
  function stale(build) {
    const s = document.getElementById("stale");
    if (s && build) { s.hidden = build === document.documentElement.dataset.build; }
  }
  function cut() { off = "The book is out of reach."; refresh(); again(); }
  let later = 0;
  function again() { clearTimeout(later); later = setTimeout(send, 1000); }

  // poll looks whether the book was written to elsewhere.
  let polling = false;
  function poll() {
    if (polling || document.visibilityState !== "visible") { return; }
    if (state.queue.length) { send(); return; }
    polling = true;
    const sent = Date.now(), hand = view.hand;
    fetchSoon("/camera/view?seen=" + encodeURIComponent(seen) + "&hand=" + encodeURIComponent(hand), {})
      .then(function (r) { return answered(r, sent); })
      .then(function (a) {
        polling = false;
        if (!a) { refresh(); return; }
        const was = off;
        off = "";
        if (was) { refresh(); }
        if (a.none || state.queue.length || sending || view.open || view.hand !== hand || busy()) { return; }
        if (a.hand) { land(a); } else if (a.refused) { off = a.refused + "."; refresh(); }
      }).catch(function () { polling = false; cut(); });
  }
  // busy says that a hand is typing.
  function busy() { const l = document.getElementById("line"); return Boolean(l && document.activeElement === l && l.value); }

  // lookAhead asks for what lies ahead, to go on with while the book is out of reach.
  let asked = 0;
  function lookAhead() {
    if (onlyRead) { return; }
    const mine = ++asked, hand = view.hand, open = Boolean(view.open);
    fetchSoon("/camera/ahead?hand=" + encodeURIComponent(hand) + (open ? "&before=" + encodeURIComponent(JSON.stringify(before.map(bare))) : ""), {})
      .then(function (r) { return r.ok ? r.json() : null; })
      .then(function (a) {
        if (!a || !a.nodes || mine !== asked || state.queue.length || view.hand !== hand || Boolean(view.open) !== open) { return; }
        ahead = a.nodes;
        node = 0;
        keep();
        refresh();
      }).catch(function () { /* what was known ahead stays known */ });
  }

  // tick shows the clocks as they are now.
  let lastTick = now();
  function tick() {
    const at = now(), c = view.clock, run = document.getElementById("run");
    if (c && view.later && !shownLater && !down && (at - c.began) / 1000 >= view.later.at) {
      shownLater = true;
      draw(view.later.html);
      return;
    }
    document.querySelectorAll("#run [data-clock]").forEach(function (e) {
      const one = Number(e.dataset.clock) < 0 ? c : (view.also || [])[Number(e.dataset.clock)];
      if (!one) { return; }
      let text = sentence(one, at);
      if (Number(e.dataset.clock) >= 0 && one.planned && at >= one.began + one.planned * 1000) { text = one.over + text; e.classList.add("calls"); }
      if (e.textContent !== text) { e.textContent = text; }
    });
    if (c && !c.asked) {
      const past = at - c.began;
      let span = c.spans[0];
      c.spans.forEach(function (s) { if (s.from * 1000 <= past) { span = s; } });
      let text = "";
      switch (span.counts) {
        case "in": text = String(Math.max(1, Math.ceil(-past / 1000))); break;
        case "down": text = figure(Math.max(0, c.planned * 1000 - past)); break;
        case "over": text = "+" + figure(past - c.planned * 1000); break;
        default: text = figure(Math.max(0, past));
      }
      const f = document.getElementById("figure"), w = document.getElementById("word");
      if (f) { f.textContent = text; f.classList.toggle("calls", Boolean(span.calls)); }
      if (w && w.textContent !== span.word) { w.textContent = span.word; }
      if (w) { w.classList.toggle("calls", Boolean(span.calls)); }
    } else if (c && view.stopped) {
      const f = document.getElementById("figure");
      if (f) { f.textContent = figure(Math.max(0, view.stopped - c.began)); }
    }
    beats(lastTick, at);
    lastTick = at;
    if (run) { run.classList.toggle("runs", Boolean(c)); }
  }

  // beats sounds what fell due between two looks; after a long sleep only what calls a hand still.
  function beats(from, to) {
    if (to <= from) { return; }
    let due = null;
    (view.clock && !view.clock.asked ? [view.clock] : []).concat(view.also || []).forEach(function (c) {
      (c.sounds || []).forEach(function (s) {
        const a = (from - c.began) / 1000, b = (to - c.began) / 1000;
        let at = s.from;
        if (s.every) { at = s.from + Math.max(0, Math.floor((b - s.from) / s.every)) * s.every; }
        if (at <= a || at > b || s.to !== undefined && at >= s.to) { return; }
        if (!due || rank(s) > rank(due)) { due = s; }
      });
    });
    if (due) { ring(due); }
  }
  function rank(s) { return ["second", "count", "near", "rock", "over", "start", "end"].indexOf(s.beat); }
  let audio = null;
  function unlockSound() {
    const A = window.AudioContext || window.webkitAudioContext;
    if (!audio && A) { audio = new A(); }
    if (audio && audio.state === "suspended") { audio.resume(); }
  }
  function ring(s) {
    const loud = s.loud || s.beat === "over";
    if (state.sound === "off" || state.sound === "calls" && !loud) { return; }
    if (navigator.vibrate) { navigator.vibrate(s.beat === "end" ? [400, 150, 400, 150, 400] : loud ? [200] : [40]); }
    const times = s.beat === "end" ? 3 : 1;
    if (!audio || audio.state !== "running") { return; }
    for (let i = 0; i < times; i++) {
      const o = audio.createOscillator(), g = audio.createGain(), at = audio.currentTime + i * 0.3;
      o.frequency.value = loud ? 880 : 440;
      g.gain.setValueAtTime(0.001, at);
      g.gain.exponentialRampToValueAtTime(loud ? 0.6 : 0.2, at + 0.01);
      g.gain.exponentialRampToValueAtTime(0.001, at + (loud ? 0.22 : 0.08));
      o.connect(g); g.connect(audio.destination);
      o.start(at); o.stop(at + 0.25);
    }
  }
  const sounds = { calls: "Sounds at the call", each: "Sounds at every beat", off: "No sound" };
  function showSound() { soundButton.textContent = sounds[state.sound]; }
  soundButton.hidden = onlyRead;
  soundButton.addEventListener("click", function () {
    const all = Object.keys(sounds);
    state.sound = all[(all.indexOf(state.sound) + 1) % all.length];
    save(); showSound(); unlockSound();
  });
  showSound();

  form.addEventListener("submit", function (e) {
    e.preventDefault();
    const b = e.submitter || document.getElementById("next"), typed = document.getElementById("line");
    const byHand = typed && document.getElementById("typed").open && typed.value.trim();
    if (b && b.value === "line" || byHand && document.activeElement === typed) {
      const text = byHand || line();
      if (text) { press("line", text, document.querySelector("#run").dataset.wants + " " + text); }
      return;
    }
    if (b) { press(b.value, "", document.querySelector("#run h1").textContent + ": " + b.textContent); }
  });
  form.addEventListener("click", function (e) {
    const b = e.target.closest(".down, .up");
    if (!b) { return; }
    const s = b.closest(".stepper"), was = Number(s.dataset.at);
    step(s, was + (b.classList.contains("up") ? 1 : -1));
    chosen[s.dataset.name] = Number(s.dataset.at);
    label();
    if (s.id === "aperture" && Number(s.dataset.at) !== was) { press("f", words(s)[s.dataset.at], "aperture f/" + words(s)[s.dataset.at]); }
  });
  form.addEventListener("input", label);
  form.addEventListener("toggle", label, true);

  document.addEventListener("visibilitychange", function () {
    if (document.visibilityState === "visible") { tick(); poll(); }
  });
  window.addEventListener("online", poll);
  const kept = onlyRead ? null : lastKept();
  const goesOn = kept && (state.queue.length || kept.view.open || kept.view.hand !== view.hand || kept.seen > view.seen);
  if (kept) { ahead = kept.ahead; node = kept.node; }
  if (goesOn) {
    before = kept.before; seen = kept.seen;
    view = Object.assign({}, kept.view, { hand: kept.view.hand });
    document.getElementById("run").outerHTML = view.html;
    waiting = state.queue.length > 0 && state.queue[state.queue.length - 1].waits === true;
  } else if (state.offset === null) { // no answer has told it yet
    state.offset = Math.abs(view.now - Date.now()) <= 5000 ? 0 : view.now - Date.now(); // so may the way of the page
  }
  dress();
  tick();
  if ("serviceWorker" in navigator && window.isSecureContext && !onlyRead) {
    navigator.serviceWorker.register("/sw.js").then(function () { return navigator.serviceWorker.ready; }).then(function () {
      return caches.open("traybook-camera").then(function (c) { // what this page was made of, before the worker was there
        const parts = ["/camera"].concat(Array.from(document.querySelectorAll("link[href], script[src]"), function (x) { return x.getAttribute("href") || x.getAttribute("src"); }));
        return Promise.all(parts.map(function (u) { return c.match(u).then(function (had) { return had ? null : c.add(u); }); }));
      });
    }).catch(function () { /* it opens only while the program runs */ });
  }
  setInterval(tick, 100);
  setInterval(poll, 1000);
  poll();
  send();
  lookAhead();
})();

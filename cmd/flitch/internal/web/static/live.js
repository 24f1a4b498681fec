// Follows the stream of flitch and keeps the glance fresh. When the stream or a
// fetch fails, the page says so: a number that has stopped moving must not look
// like one that holds still.
(function () {
  "use strict";
  // Where browsers allow it, the worker shows its own page when the network is gone.
  if (navigator.serviceWorker && window.isSecureContext) { navigator.serviceWorker.register("/ring.js").catch(function () {}); }

  // A link to a part that is folded opens it too.
  function open() {
    var target = location.hash && document.getElementById(location.hash.slice(1));
    if (target && target.tagName === "DETAILS") { target.open = true; target.scrollIntoView(); }
  }
  open();
  window.addEventListener("hashchange", open);

  var live = document.getElementById("live");
  var lost = document.getElementById("lost");
  if (!live || !lost || !window.EventSource) { return; }

  var patience = 4000;        // ms without a beat; beats come every 2 s
  var heard = Date.now();     // last sign of life
  var stale = false;          // the last fetch failed
  var sent = false;           // a form is on its way: its answer is the next page
  var fetching = false, again = false;
  var ahead = 0;              // this phone's clock minus the daemon's, ms
  var stream;
  var ago = live.getAttribute("data-ago") || "{}";
  var pressed = false, waits = null; // a button under a finger is not taken away

  function setClock() {
    var mark = live.querySelector("[data-now]");
    if (mark) { ahead = Date.now() - Number(mark.getAttribute("data-now")); }
  }

  // Same words as the server's.
  function span(ms) {
    var s = Math.max(0, Math.floor(ms / 1000)), m = Math.floor(s / 60), h = Math.floor(m / 60);
    if (s < 120) { return s + " s"; }
    if (m < 120) { return m + " min"; }
    if (h < 48) { return h + " h " + (m % 60 < 10 ? "0" : "") + (m % 60) + " min"; }
    return Math.floor(h / 24) + " d " + (h % 24) + " h";
  }

  function tick() {
    var now = Date.now();
    var dead = stale || now - heard > patience;
    lost.hidden = !dead;
    document.body.classList.toggle("dead", dead);
    live.querySelectorAll("[data-since]").forEach(function (e) {
      e.textContent = ago.replace("{}", span(now - ahead - Number(e.getAttribute("data-since"))));
    });
  }

  function swap(html) {
    if (pressed) { waits = html; return; }
    var focus = document.activeElement, fresh = document.createElement("template");
    var key = focus && focus.getAttribute("data-key");
    var open = live.querySelector("details[open]") !== null; // there is at most one
    fresh.innerHTML = html;
    reach(fresh.content.querySelector("#reach"));
    live.replaceChildren(fresh.content);
    if (open && live.querySelector("details")) { live.querySelector("details").open = true; }
    setClock();
    if (key && !document.contains(focus)) {
      var same = document.querySelector('[data-key="' + CSS.escape(key) + '"]');
      if (same) { same.focus(); }
    }
  }

  // The buttons under the thumb come with each glance and lie in the page below it.
  function reach(next) {
    var now = document.getElementById("reach");
    if (!next) { return; }
    next.remove();
    if (now && !now.isEqualNode(next)) { now.replaceWith(next); }
  }

  function press() { pressed = true; }
  function release() {
    setTimeout(function () { // after the click
      pressed = false;
      if (waits !== null) { var html = waits; waits = null; swap(html); tick(); }
    }, 150);
  }

  function refresh() {
    if (fetching) { again = true; return; }
    fetching = true;
    again = false;
    var stop = new AbortController();
    var timer = setTimeout(function () { stop.abort(); }, patience);
    fetch(live.getAttribute("data-from"), { cache: "no-store", signal: stop.signal })
      .then(function (r) {
        if (r.status === 404 && !sent) { location.reload(); } // what it shows is over: the page says so
        if (!r.ok) { throw new Error(String(r.status)); }
        return r.text();
      })
      .then(function (html) { stale = false; swap(html); })
      .catch(function () { stale = true; again = true; })
      .finally(function () {
        clearTimeout(timer);
        fetching = false;
        tick();
        if (again) { setTimeout(refresh, 1000); }
      });
  }

  function alive() { heard = Date.now(); tick(); }

  function connect() {
    stream = new EventSource("/api/events");
    stream.addEventListener("beat", alive);
    stream.addEventListener("glance", function () { alive(); refresh(); });
    stream.onopen = function () { alive(); refresh(); };
    stream.onerror = function () {
      // The browser tries again by itself unless it was refused.
      if (stream.readyState === EventSource.CLOSED) { setTimeout(connect, 3000); }
    };
  }

  document.addEventListener("pointerdown", press);
  document.addEventListener("pointerup", release);
  document.addEventListener("pointercancel", release);
  document.addEventListener("submit", function () { sent = true; });
  setClock();
  connect();
  setInterval(tick, 500);
  document.addEventListener("visibilitychange", function () {
    if (!document.hidden) { tick(); refresh(); }
  });
})();

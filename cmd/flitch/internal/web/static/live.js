// Follows the stream of flitch and keeps the glance fresh. When the stream or a
// fetch fails, the page says so: a number that has stopped moving must not look
// like one that holds still.
(function () {
  "use strict";
  var live = document.getElementById("live");
  var lost = document.getElementById("lost");
  if (!live || !lost || !window.EventSource) { return; }

  var patience = 4000;        // ms without a beat; beats come every 2 s
  var heard = Date.now();     // last sign of life
  var stale = false;          // the last fetch failed
  var fetching = false, again = false;
  var ahead = 0;              // this phone's clock minus the daemon's, ms
  var stream;

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
      e.textContent = span(now - ahead - Number(e.getAttribute("data-since"))) + " ago";
    });
  }

  function swap(html) {
    var focus = document.activeElement;
    var key = focus && live.contains(focus) ? focus.getAttribute("data-key") : null;
    var open = live.querySelector("details[open]") !== null; // there is at most one
    live.innerHTML = html;
    if (open && live.querySelector("details")) { live.querySelector("details").open = true; }
    setClock();
    if (key) {
      var same = live.querySelector('[data-key="' + key + '"]');
      if (same) { same.focus(); }
    }
  }

  function refresh() {
    if (fetching) { again = true; return; }
    fetching = true;
    again = false;
    var stop = new AbortController();
    var timer = setTimeout(function () { stop.abort(); }, patience);
    fetch(live.getAttribute("data-from"), { cache: "no-store", signal: stop.signal })
      .then(function (r) {
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

  // The link to the hand reading opens it too.
  function open() {
    var target = location.hash === "#hand" && document.getElementById("hand");
    if (target) { target.open = true; }
  }

  setClock();
  connect();
  open();
  window.addEventListener("hashchange", open);
  setInterval(tick, 500);
  document.addEventListener("visibilitychange", function () {
    if (!document.hidden) { tick(); refresh(); }
  });
})();

// A cross-hair over the chart: exact values under a finger, a mouse or the arrow keys.
// The picture is whole without it. What it shows are readings the picture drew.
(function () {
  "use strict";
  var stretch = 60000; // ms between two drawings of a chart that ends now

  function pad(n) { return (n < 10 ? "0" : "") + n; }
  var said = document.body.dataset; // the texts
  var days = (said.days || "").split(" ");

  function local(data, ms) {
    var zone = data.zones[0];
    data.zones.forEach(function (z) { if (z.from <= ms) { zone = z; } });
    var d = new Date(ms + zone.offset * 1000);
    return days[d.getUTCDay()] + " " + d.getUTCDate() + ", " + pad(d.getUTCHours()) + ":" + pad(d.getUTCMinutes()) + " " + zone.name;
  }

  // What one line says at a moment: the readings of that column, or the nearest one of
  // the same piece; nothing inside a gap.
  function value(line, at, half, unit) {
    for (var i = 0; i < line.pieces.length; i++) {
      var p = line.pieces[i];
      if (at < p[0] - half || at > p[p.length - 2] + half) { continue; }
      var low = Infinity, high = -Infinity, near = 0;
      for (var j = 0; j < p.length; j += 2) {
        if (Math.abs(p[j] - at) < Math.abs(p[near] - at)) { near = j; }
        if (Math.abs(p[j] - at) <= half) { low = Math.min(low, p[j + 1]); high = Math.max(high, p[j + 1]); }
      }
      if (low > high) { low = high = p[near + 1]; }
      var text = (low / 10).toFixed(1);
      return (low === high ? text : said.range.replace("{}", text).replace("{}", (high / 10).toFixed(1))) + " " + unit;
    }
    return said.none;
  }

  function part(parent, name) {
    var e = document.createElement("div");
    e.className = name;
    e.hidden = true;
    parent.appendChild(e);
    return e;
  }

  function hair(figure) {
    var img = figure.querySelector("img"), line = part(figure, "line"), told = part(figure, "told");
    var data = null, from = "", asking = false, x = 0; // x: px in the picture

    function load(then) {
      var source = (img.currentSrc || img.src).replace("chart.svg", "chart.json");
      if (data && from === source) { then(); return; }
      if (asking) { return; }
      asking = true;
      fetch(source, { cache: "no-store" })
        .then(function (r) { if (!r.ok) { throw new Error(String(r.status)); } return r.json(); })
        .then(function (d) { data = d; from = source; then(); })
        .catch(function () { told.textContent = said.unreached; told.hidden = false; })
        .finally(function () { asking = false; });
    }

    function show() {
      var scale = img.clientWidth / data.width, share, at, half;
      x = Math.min(data.right, Math.max(data.left, x));
      share = (x - data.left) / (data.right - data.left);
      at = share * (data.to - data.from) / 1000;
      half = Math.max(data.column / 2000, 1);
      told.textContent = local(data, data.from + at * 1000);
      data.lines.forEach(function (l) {
        var row = document.createElement("div"), number = document.createElement("b");
        number.textContent = value(l, at, half, data.unit);
        row.append(l.name + " ", number);
        told.appendChild(row);
      });
      line.style.left = img.offsetLeft + x * scale - 1 + "px";
      line.style.top = img.offsetTop + data.top * scale + "px";
      line.style.height = (data.bottom - data.top) * scale + "px";
      line.hidden = told.hidden = false;
      var right = x * scale > img.clientWidth / 2; // the words keep out from under the finger
      told.style.top = img.offsetTop + data.top * scale + 4 + "px";
      told.style.left = right ? "auto" : img.offsetLeft + x * scale + 14 + "px";
      told.style.right = right ? img.offsetLeft + img.clientWidth - x * scale + 14 + "px" : "auto";
    }

    function point(event) {
      var box = img.getBoundingClientRect();
      if (event.clientY < box.top || event.clientY > box.bottom) { return; }
      var px = event.clientX - box.left;
      load(function () { x = px * data.width / img.clientWidth; show(); });
    }

    figure.addEventListener("pointerdown", point);
    figure.addEventListener("pointermove", function (e) { if (e.pointerType === "mouse" || e.buttons) { point(e); } });
    figure.addEventListener("keydown", function (e) {
      var step = { ArrowLeft: -1, ArrowRight: 1 }[e.key];
      if (e.key === "Escape") { line.hidden = told.hidden = true; }
      if (!step) { return; }
      e.preventDefault();
      load(function () { x = line.hidden ? data.right : x + step * (e.shiftKey ? 20 : 1); show(); });
    });
  }

  // Draws a picture that ends now anew. A picture that cannot be had leaves the old one,
  // which says itself as of when it is.
  function follow(figure) {
    var img = figure.querySelector("img"), source = figure.querySelector("source");
    var wide = source.srcset, narrow = img.getAttribute("src");
    setInterval(function () {
      if (document.hidden) { return; }
      var mark = "&at=" + Date.now(), next = new Image();
      next.onload = function () { source.srcset = wide + mark; img.src = narrow + mark; };
      next.src = (img.currentSrc === img.src ? narrow : wide) + mark;
    }, stretch);
  }

  document.body.classList.add("scripted");
  document.querySelectorAll("figure.hair").forEach(hair);
  document.querySelectorAll("figure[data-follows]").forEach(follow);
})();

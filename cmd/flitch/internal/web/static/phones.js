// The button that makes this phone ring: permission, the worker, a subscription at
// the browser's push service, and the list of flitch.
(function () {
  "use strict";
  var form = document.getElementById("ring");
  if (!form) { return; }

  function trouble(when, why) {
    document.querySelectorAll("[data-when]").forEach(function (e) {
      e.hidden = e.getAttribute("data-when") !== when;
    });
    document.getElementById("why").textContent = why || "";
  }

  if (!window.isSecureContext) { trouble("insecure"); return; }
  if (!navigator.serviceWorker || !window.PushManager || !window.Notification) { trouble("old"); return; }
  form.hidden = false;
  if (Notification.permission === "denied") { trouble("denied"); }

  // The sender's key, as bytes.
  function key() {
    var text = form.getAttribute("data-key").replace(/-/g, "+").replace(/_/g, "/");
    return Uint8Array.from(atob(text), function (c) { return c.charCodeAt(0); });
  }

  function same(subscription) {
    var own = subscription.options && subscription.options.applicationServerKey;
    return own && String(new Uint8Array(own)) === String(key());
  }

  // A subscription for another sender's key, from before a new start, is of no use.
  function subscribe(registration) {
    return registration.pushManager.getSubscription().then(function (old) {
      if (old && same(old)) { return old; }
      var gone = old ? old.unsubscribe() : Promise.resolve();
      return gone.then(function () {
        return registration.pushManager.subscribe({ userVisibleOnly: true, applicationServerKey: key() });
      });
    });
  }

  // The worker has no other memory of what it asked for; without it, it asks for help.
  function remember(subscription) {
    var own = JSON.stringify({ endpoint: subscription.endpoint, key: form.getAttribute("data-key") });
    return caches.open("flitch").then(function (kept) { return kept.put("/own-subscription", new Response(own)); }).catch(function () {});
  }

  function send(subscription) {
    var fields = new FormData(form);
    var body = { channel: fields.get("channel"), by: fields.get("by"), name: fields.get("name"), subscription: subscription };
    return fetch("/api/phones", { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(body) })
      .then(function (answer) {
        if (answer.ok) { return remember(subscription).then(function () { location.assign("/phones?done"); }); }
        return answer.json().then(function (said) { throw new Error(said.error + (said.hint ? ": " + said.hint : "")); });
      });
  }

  var patience = 20000; // ms for the browser's push service, which says nothing without internet
  var button = form.querySelector("button");

  function ring() {
    trouble("wait");
    button.disabled = true;
    var late = setTimeout(function () { trouble("slow"); button.disabled = false; }, patience);
    return navigator.serviceWorker.register("/ring.js")
      .then(function () { return navigator.serviceWorker.ready; })
      .then(subscribe)
      .then(send)
      .finally(function () { clearTimeout(late); button.disabled = false; });
  }

  form.addEventListener("submit", function (event) {
    event.preventDefault();
    trouble("");
    Notification.requestPermission().then(function (permission) {
      if (permission !== "granted") { trouble("denied"); return; }
      return ring();
    }).catch(function (err) { trouble("failed", err.message); });
  });
})();

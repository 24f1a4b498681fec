// Stays in the phone when the page is closed, and shows what flitch sends. Its texts, said,
// are put in front when it is served.
"use strict";

// The page for a phone without network, and its look. Nothing else is ever kept: a number
// that was kept would be old.
var kept = "flitch-offline", offline = "/offline", parts = [offline, "/static/flitch.css"];

self.addEventListener("install", function (event) {
  self.skipWaiting();
  event.waitUntil(caches.open(kept).then(function (box) {
    return box.addAll(parts.map(function (part) { return new Request(part, { cache: "reload" }); }));
  }).catch(function () {})); // without room it still rings
});

self.addEventListener("activate", function (event) { event.waitUntil(self.clients.claim()); });

function fromKept(request) {
  return caches.open(kept).then(function (box) { return box.match(request); })
    .then(function (found) { return found || Response.error(); });
}

self.addEventListener("fetch", function (event) {
  var path = new URL(event.request.url).pathname;
  if (event.request.mode === "navigate" && event.request.method === "GET") {
    event.respondWith(fetch(event.request).catch(function () { return fromKept(offline); }));
  } else if (path === parts[1]) {
    event.respondWith(fetch(event.request).catch(function () { return fromKept(parts[1]); }));
  }
});

function read(data) {
  try { return data.json(); } catch (e) { return { title: "flitch", text: data ? data.text() : "" }; }
}

self.addEventListener("push", function (event) {
  var n = read(event.data);
  var how = { body: n.text || "", requireInteraction: Boolean(n.ring), data: { link: n.link || "/" } };
  if (n.tag) {
    how.tag = n.tag;              // a newer message of one alarm takes the older one's place
    how.renotify = Boolean(n.ring); // and is heard again
  }
  if (n.ring) { how.vibrate = [600, 200, 600, 200, 600, 200, 600]; } // ms on, ms off
  event.waitUntil(self.registration.showNotification(n.title || "flitch", how));
});

self.addEventListener("notificationclick", function (event) {
  event.notification.close();
  var link = (event.notification.data && event.notification.data.link) || "/";
  event.waitUntil(self.clients.openWindow(link));
});

// What the page left here when this phone was added: its endpoint and the sender's key.
var own = "/own-subscription";

function remembered() {
  return caches.open("flitch").then(function (kept) { return kept.match(own); })
    .then(function (found) { return found ? found.json() : {}; })
    .catch(function () { return {}; });
}

function remember(was) {
  return caches.open("flitch").then(function (kept) { return kept.put(own, new Response(JSON.stringify(was))); });
}

// The sender's key, as bytes.
function bytes(text) {
  return Uint8Array.from(atob(text.replace(/-/g, "+").replace(/_/g, "/")), function (c) { return c.charCodeAt(0); });
}

function subscribe(was, before) {
  var key = was.key ? bytes(was.key) : before && before.options && before.options.applicationServerKey;
  if (!key) { return Promise.reject(new Error("key")); }
  return self.registration.pushManager.subscribe({ userVisibleOnly: true, applicationServerKey: key });
}

// The browser has changed its subscription: flitch has to know the new one, or this
// phone rings no more and nobody notices. What fails here is for a person to see.
function renew(event) {
  var was = {};
  return remembered().then(function (found) {
    was = found;
    return event.newSubscription || subscribe(was, event.oldSubscription);
  }).then(function (next) {
    var old = event.oldSubscription ? event.oldSubscription.endpoint : was.endpoint;
    return fetch("/api/phones/renewed", { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify({ old: old, subscription: next }) })
      .then(function (answer) {
        if (!answer.ok) { throw new Error(String(answer.status)); }
        was.endpoint = next.endpoint;
        return remember(was);
      });
  }).catch(function () {
    return self.registration.showNotification(said.gone, { requireInteraction: true, data: { link: "/phones" }, tag: "renew",
      body: said.gone_more });
  });
}

self.addEventListener("pushsubscriptionchange", function (event) { event.waitUntil(renew(event)); });

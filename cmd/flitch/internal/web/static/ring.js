// Stays in the phone when the page is closed, and shows what flitch sends.
"use strict";

self.addEventListener("install", function () { self.skipWaiting(); });

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

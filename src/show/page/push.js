// Shows an alert that came while the page was closed.
"use strict";

self.addEventListener("push", (event) => {
  const told = event.data ? event.data.json() : {};
  const shown = self.registration.showNotification(told.title ?? "dekchi", {
    body: told.text ?? "",
    // A later word on the same matter takes the earlier one's place, and is heard.
    tag: told.about ?? "dekchi",
    renotify: true,
    requireInteraction: told.priority === "high",
  });
  event.waitUntil(shown);
});

self.addEventListener("notificationclick", (event) => {
  event.notification.close();
  const shown = self.clients.matchAll({ type: "window" });
  event.waitUntil(shown.then((pages) => (pages[0] ? pages[0].focus() : self.clients.openWindow("/"))));
});

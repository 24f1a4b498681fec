// Keeps the screen of a phone at the bed on, from a person's tap until the next one. The
// browser lets go of it when the page is hidden, and it is asked for again then.
(function () {
  "use strict";
  var button = document.getElementById("awake"), why = document.getElementById("awake-why");
  if (!button) { return; }
  var wanted = false, lock = null;

  button.hidden = false;
  if (!navigator.wakeLock) {
    button.hidden = true;
    why.textContent = button.getAttribute(window.isSecureContext ? "data-no" : "data-insecure");
    return;
  }

  function show() {
    button.setAttribute("aria-pressed", String(wanted));
    button.textContent = button.getAttribute(wanted ? "data-on" : "data-off");
  }

  function hold() {
    if (lock || document.hidden) { return; }
    navigator.wakeLock.request("screen").then(function (got) {
      lock = got;
      got.addEventListener("release", function () { lock = null; });
      if (!wanted) { got.release(); }
    }).catch(function () {
      wanted = false;
      why.textContent = button.getAttribute("data-no");
      show();
    });
  }

  button.addEventListener("click", function () {
    wanted = !wanted;
    why.textContent = "";
    if (wanted) { hold(); } else if (lock) { lock.release(); }
    show();
  });
  document.addEventListener("visibilitychange", function () { if (wanted) { hold(); } });
})();

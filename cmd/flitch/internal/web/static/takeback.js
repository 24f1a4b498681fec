// Hides the button that takes an entry back when its minute is over. The daemon decides; a
// button that would only be refused is not left on the page.
(function () {
  "use strict";
  document.querySelectorAll("form[data-for]").forEach(function (form) {
    setTimeout(function () { form.hidden = true; }, Number(form.getAttribute("data-for")));
  });
})();

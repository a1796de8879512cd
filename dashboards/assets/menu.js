// On a phone the bar's links stand behind a button: it opens them, a link or Escape closes them again.
(() => {
  const button = () => document.getElementById("bar-menu");
  const set = (open) => button()?.setAttribute("aria-expanded", String(open));

  document.addEventListener("click", (event) => {
    if (event.target.closest("#bar-menu")) set(button().getAttribute("aria-expanded") !== "true");
    else if (event.target.closest("#bar-pages a")) set(false);
  });
  document.addEventListener("keydown", (event) => {
    if (event.key !== "Escape" || button()?.getAttribute("aria-expanded") !== "true") return;
    set(false);
    button().focus();
  });
})();

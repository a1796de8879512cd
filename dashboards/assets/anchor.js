/* A link to a part of a page: that part arrives after the page, and charts above it push it down as they are drawn.
   What it leads into is unfolded. */
(function () {
  const PATIENCE_MS = 5000;
  let growth = null;

  function rest() {
    if (growth) growth.disconnect();
    growth = null;
  }
  function seek() {
    rest();
    const name = decodeURIComponent(window.location.hash.slice(1));
    if (!name) return;
    const go = () => {
      const part = document.getElementById(name);
      if (!part) return;
      for (const other of document.querySelectorAll(".asked")) other.classList.remove("asked");
      part.classList.add("asked");
      for (let fold = part.closest("details"); fold; fold = fold.parentElement.closest("details")) fold.open = true;
      part.scrollIntoView({block: "start"});
    };
    growth = new ResizeObserver(go);
    growth.observe(document.body);
    go();
    setTimeout(rest, PATIENCE_MS);
  }
  for (const event of ["load", "hashchange", "_dashprivate_pushstate"]) window.addEventListener(event, () => setTimeout(seek));
  document.addEventListener("click", (event) => {
    if (event.target.closest('a[href^="#"]')) setTimeout(seek);  // the same part again: its address does not change
  });
  for (const event of ["wheel", "touchstart", "pointerdown", "keydown"]) window.addEventListener(event, rest, {passive: true});
})();

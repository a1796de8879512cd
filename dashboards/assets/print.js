// Paper is white and narrower than a screen, and nobody can unfold it: pages print in the light scheme, charts as wide
// as the paper, and results that are folded are open.
(() => {
  const root = document.documentElement;
  const SCHEME = "data-mantine-color-scheme";
  const PRINTED_WIDTH = "186mm"; // of A4 between the margins; Letter is a little wider
  let scheme = null, folded = [];

  const drawn = () => [...document.querySelectorAll(".js-plotly-plot")].filter((chart) => chart._fullLayout);

  window.addEventListener("beforeprint", () => {
    scheme = root.getAttribute(SCHEME);
    root.setAttribute(SCHEME, "light");
    folded = [...document.querySelectorAll("main details:not([open]):not(.no-print, .as-seen)")];
    for (const fold of folded) fold.open = true;
    document.body.style.width = PRINTED_WIDTH;
    for (const chart of drawn()) {
      window.Plotly.relayout(chart, { autosize: false, width: chart.parentElement.clientWidth });
    }
  });
  window.addEventListener("afterprint", () => {
    root.setAttribute(SCHEME, scheme);
    for (const fold of folded) fold.open = false;
    document.body.style.width = "";
    for (const chart of drawn()) {
      window.Plotly.relayout(chart, { autosize: true, width: null });
    }
  });
})();

// Paper is white and narrower than a screen: pages print in the light scheme, and charts are drawn as wide as the paper.
(() => {
  const root = document.documentElement;
  const SCHEME = "data-mantine-color-scheme";
  const PRINTED_WIDTH = "186mm"; // of A4 between the margins; Letter is a little wider
  let scheme = null;

  const drawn = () => [...document.querySelectorAll(".js-plotly-plot")].filter((chart) => chart._fullLayout);

  window.addEventListener("beforeprint", () => {
    scheme = root.getAttribute(SCHEME);
    root.setAttribute(SCHEME, "light");
    document.body.style.width = PRINTED_WIDTH;
    for (const chart of drawn()) {
      window.Plotly.relayout(chart, { autosize: false, width: chart.parentElement.clientWidth });
    }
  });
  window.addEventListener("afterprint", () => {
    root.setAttribute(SCHEME, scheme);
    document.body.style.width = "";
    for (const chart of drawn()) {
      window.Plotly.relayout(chart, { autosize: true, width: null });
    }
  });
})();

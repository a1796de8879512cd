/* Cells of the grids. Every one is words first; colour and line only repeat them. */
(function () {
  const cells = (window.dashAgGridComponentFunctions = window.dashAgGridComponentFunctions || {});
  const make = (...all) => React.createElement(...all);
  const MARKS = {warning: ["▲", "Warning"], caution: ["◆", "Caution"], advisory: ["●", "Advisory"],
    good: ["✓", "Nothing found"], unknown: ["?", "Not known"]};

  function follow(event) {
    if (event.metaKey || event.ctrlKey || event.shiftKey || event.button) return;
    event.preventDefault();
    window.history.pushState({}, "", event.currentTarget.getAttribute("href"));
    window.dispatchEvent(new CustomEvent("_dashprivate_pushstate"));
    window.scrollTo(0, 0);
  }
  /* A row that is still on its way has no data yet. */
  cells.Link = (props) => props.data ? make("a", {href: props.data.href, onClick: follow}, props.value) : null;
  cells.Condition = (props) => {
    const look = MARKS[props.value];
    if (!look) return make("span", null, "");
    return make("span", {className: "badge " + props.value}, make("span", {"aria-hidden": true}, look[0]), " " + look[1]);
  };
})();

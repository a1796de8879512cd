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
  cells.Link = (props) => make("a", {href: props.data.href, onClick: follow}, props.value);
  cells.Aircraft = (props) => make("span", {className: "aircraft-cell"},
    make("span", null, props.data.place + ". ", make("a", {href: props.data.href, onClick: follow}, props.value)),
    cells.Condition({value: props.data.condition}));
  cells.Condition = (props) => {
    const look = MARKS[props.value];
    if (!look) return make("span", null, "");
    return make("span", {className: "badge " + props.value}, make("span", {"aria-hidden": true}, look[0]), " " + look[1]);
  };
  function line(told, place) {
    const [low, high] = told.range, wide = 70, tall = 24, n = told.values.length;
    const points = told.values.map((v, i) =>
      (n > 1 ? 2 + (i * (wide - 4)) / (n - 1) : wide / 2).toFixed(1) + "," +
      (tall - 3 - ((v - low) / (high - low)) * (tall - 6)).toFixed(1));
    const last = points[n - 1].split(",");
    return make("span", {className: "small-line", key: place},
      make("span", {className: "quiet"}, told.label),
      make("svg", {width: wide, height: tall, role: "img", "aria-label": told.says},
        make("title", null, told.says),
        make("polyline", {points: points.join(" "), fill: "none", stroke: "#1c7fc4", strokeWidth: 1.6}),
        make("circle", {cx: last[0], cy: last[1], r: 2.6, fill: "#1c7fc4"})),
      make("span", null, told.last));
  }
  cells.Lines = (props) => props.value && props.value.length
    ? make("span", {className: "small-lines"}, props.value.map(line))
    : make("span", {className: "quiet"}, "nothing measured yet");
  cells.Limit = (props) => make("span", null, props.data.limit);
})();

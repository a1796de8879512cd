/* Bringing a chart to a stretch of time, and keeping the address in step so that it can be shared. */
const drawnWidth = () => {
  const chart = document.querySelector("#flight-chart .js-plotly-plot");
  return chart && chart._fullLayout ? chart._fullLayout._size.w : null;
};
window.dash_clientside = Object.assign({}, window.dash_clientside, {
  taper: {
    bringIntoView: function (key) {
      if (key) setTimeout(() => {
        const at = document.getElementById("bring-closer");
        if (at) at.scrollIntoView({block: "start"});
      }, 400);
      return dash_clientside.no_update;
    },
    /* What stands in the field now: the page's own copy of it follows some letters later. */
    typedWords: function (clicks, submits) {
      const words = document.getElementById("squawk-words");
      if (!words || (!clicks && !submits)) return dash_clientside.no_update;
      return {words: words.value, asked: (clicks || 0) + (submits || 0)};
    },
    /* Only what moves the time axis or changes its width asks the server for detail: a later event without news would
       cancel the answer. */
    keepWindow: function (moved) {
      if (!moved) return dash_clientside.no_update;
      const width = drawnWidth();
      if (moved["xaxis.autorange"]) return {whole: true, width: width};
      const range = moved["xaxis.range"] || [moved["xaxis.range[0]"], moved["xaxis.range[1]"]];
      if (range[0] !== undefined && range[1] !== undefined) return {range: range, width: width};
      const chart = document.querySelector("#flight-chart .js-plotly-plot");
      if (!chart || chart.taperWidth === width || !moved.autosize) return dash_clientside.no_update;
      chart.taperWidth = width;
      return {range: chart._fullLayout.xaxis.range.slice(), width: width};
    },
    /* Readings that were sent for a chart, laid into it, unless they are of what the page no longer shows: an answer may
       come after another flight was opened. */
    layIn: function (detail, figure, ...shown) {
      if (!detail || !figure || JSON.stringify(detail.of) !== JSON.stringify(shown)) return dash_clientside.no_update;
      const data = detail.data || figure.data.map((line, place) => ({...line, ...detail.points[place]}));
      const layout = {...figure.layout};
      Object.entries(detail.layout || {}).forEach(([name, axis]) => { layout[name] = {...layout[name], ...axis}; });
      return {...figure, data: data, layout: layout};
    },
    showStretch: function () {
      const asked = dash_clientside.callback_context.triggered_id;
      const value = dash_clientside.callback_context.triggered[0];
      if (!asked || !value || !value.value) return dash_clientside.no_update;
      const chart = document.querySelector("#flight-chart .js-plotly-plot");
      if (!chart) return dash_clientside.no_update;
      const path = window.location.pathname;
      if (asked === "flight-whole") {
        history.replaceState(history.state, "", path);
        Plotly.relayout(chart, {"xaxis.autorange": true});
        return "The whole flight is shown.";
      }
      const axis = chart._fullLayout.xaxis;
      const origin = chart.layout.meta.origin, unit = chart.layout.meta.unit;
      const at = (seconds) => origin + seconds * unit;
      history.replaceState(history.state, "", path + "?from=" + asked.first + "&to=" + asked.last);
      const range = [at(asked.first), at(asked.last)];
      Plotly.relayout(chart, {"xaxis.range": range});
      dash_clientside.set_props("flight-window", {data: {range: range, width: drawnWidth()}});  // the chart may not report yet
      document.getElementById("flight-meters").scrollIntoView({block: "start"});
      return "The chart shows this stretch; its address can be shared.";
    },
  },
});

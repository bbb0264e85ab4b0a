/* Draws the figures that stand as JSON in the page, in the colours of the chosen light.
   A colour in a figure is the name of a token, "--role-waste", read from the style sheet here. */
(() => {
  "use strict";
  const token = (style, name) => style.getPropertyValue(name).trim();
  const faded = (colour, share) => {
    const hex = colour.length === 4 ? colour.replace(/[0-9a-f]/gi, "$&$&") : colour;
    const [r, g, b] = [1, 3, 5].map((start) => parseInt(hex.slice(start, start + 2), 16));
    return `rgba(${r}, ${g}, ${b}, ${share})`;
  };

  /* "--ink" becomes its colour, "--ink/0.4" the same colour at that strength. */
  function coloured(value, style) {
    if (typeof value === "string" && value.startsWith("--")) {
      const [name, share] = value.split("/");
      const colour = token(style, name);
      return share ? faded(colour, share) : colour;
    }
    if (Array.isArray(value)) return value.map((item) => coloured(item, style));
    if (value && typeof value === "object") {
      return Object.fromEntries(Object.entries(value).map(([key, item]) => [key, coloured(item, style)]));
    }
    return value;
  }

  function draw(place) {
    const source = document.getElementById(place.dataset.chart);
    const style = getComputedStyle(document.documentElement);
    const { data, layout } = coloured(JSON.parse(source.textContent), style);
    const narrow = place.parentElement.clientWidth < 560;
    const font = { family: token(style, "--face"), size: narrow ? 12 : 14, color: token(style, "--ink"), ...layout.font };
    const fallback = place.parentElement.querySelector(".drawing-region");
    const cramped = narrow && fallback && data.some((trace) => trace.type === "sankey");
    place.hidden = cramped;
    if (cramped) return;
    window.Plotly.react(place, data, { ...layout, font, autosize: true }, { displayModeBar: false, responsive: true, scrollZoom: false, displaylogo: false })
      .then(() => {
        if (fallback) fallback.hidden = true;
      })
      .catch(() => { place.hidden = true; });
  }
  const drawAll = () => document.querySelectorAll("[data-chart]").forEach(draw);

  document.addEventListener("DOMContentLoaded", () => {
    if (!window.Plotly) return;
    drawAll();
    document.addEventListener("theme-change", drawAll);
    matchMedia("(prefers-color-scheme: dark)").addEventListener("change", drawAll);
  });
})();

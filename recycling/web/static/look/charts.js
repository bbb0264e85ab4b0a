/* Draws the figure that somebody explores, in the colours of the chosen light.
   A colour in it is the name of a token, "var(--role-waste)", read from the style sheet here. */
(() => {
  "use strict";
  const NARROWEST = 680; // what lies, with words beside it, scrolls rather than being cut off
  const SVG = "http://www.w3.org/2000/svg";
  const token = (style, name) => style.getPropertyValue(name).trim();
  const faded = (colour, share) => {
    const hex = colour.length === 4 ? colour.replace(/[0-9a-f]/gi, "$&$&") : colour;
    const [r, g, b] = [1, 3, 5].map((start) => parseInt(hex.slice(start, start + 2), 16));
    return `rgba(${r}, ${g}, ${b}, ${share})`;
  };

  /* "var(--ink)" becomes its colour, "var(--ink/0.4)" the same colour at that strength. */
  function coloured(value, style) {
    if (typeof value === "string" && value.startsWith("var(--")) {
      const [name, share] = value.slice(4, -1).split("/");
      const colour = token(style, name);
      return share ? faded(colour, share) : colour;
    }
    if (Array.isArray(value)) return value.map((item) => coloured(item, style));
    if (value && typeof value === "object") {
      return Object.fromEntries(Object.entries(value).map(([key, item]) => [key, coloured(item, style)]));
    }
    return value;
  }

  /* Puts the hatchings of the drawing over the ribbons: the library knows none for them. */
  function hatched(place, drawing) {
    const sheet = place.querySelector("svg.main-svg");
    if (!sheet || !drawing) return;
    const hatchings = document.createElementNS(SVG, "defs");
    drawing.querySelectorAll("pattern").forEach((pattern) => {
      const copy = pattern.cloneNode(true);
      copy.id = "explored-" + pattern.id.split("-").pop();
      hatchings.append(copy);
    });
    sheet.prepend(hatchings);
    place.querySelectorAll(".sankey-link").forEach((ribbon) => {
      const role = ribbon.__data__.link.customdata;
      if (!hatchings.querySelector("#explored-" + role)) return;
      const over = document.createElementNS(SVG, "path");
      over.setAttribute("d", ribbon.getAttribute("d"));
      over.setAttribute("fill", `url(#explored-${role})`);
      over.setAttribute("pointer-events", "none");
      over.setAttribute("class", "ribbon-hatching");
      ribbon.after(over);
    });
  }

  function draw(place) {
    const source = document.getElementById(place.dataset.chart);
    const style = getComputedStyle(document.documentElement);
    const { data, layout } = coloured(JSON.parse(source.textContent), style);
    const flows = data.some((trace) => trace.type === "sankey");
    const wide = place.parentElement.clientWidth;
    const font = { family: token(style, "--face"), size: wide < 560 ? 12 : 14, color: token(style, "--ink"), ...layout.font };
    const lies = flows || data.some((trace) => trace.orientation === "h");
    const width = lies && wide < NARROWEST ? { width: NARROWEST } : { autosize: true };
    const drawing = place.parentElement.querySelector(".drawing-region");
    place.hidden = false;
    window.Plotly.react(place, data, { ...layout, ...width, font }, { displayModeBar: false, responsive: !width.width, scrollZoom: false, displaylogo: false })
      .then(() => {
        if (flows) {
          hatched(place, drawing);
          place.removeAllListeners("plotly_afterplot");
          place.on("plotly_afterplot", () => {
            if (!place.querySelector(".ribbon-hatching")) hatched(place, drawing);
          });
        }
        if (drawing) drawing.hidden = true;
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

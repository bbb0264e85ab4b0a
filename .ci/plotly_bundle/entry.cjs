const Plotly = require("plotly.js/lib/core"); // brings scatter with it
Plotly.register([require("plotly.js/lib/bar"), require("plotly.js/lib/sankey")]);
module.exports = Plotly;

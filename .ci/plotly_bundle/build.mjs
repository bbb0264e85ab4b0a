// Writes plotly-<version>.min.js and its style sheet into recycling/web/static/vendor/.
// The style sheet is served as a file because the policy forbids style elements made by script.
import { build } from "esbuild";
import { copyFileSync, readFileSync, writeFileSync } from "node:fs";
import { fileURLToPath } from "node:url";

const here = fileURLToPath(new URL(".", import.meta.url));
const vendor = `${here}../../recycling/web/static/vendor/`;
const source = `${here}node_modules/plotly.js/`;
const { version } = JSON.parse(readFileSync(`${source}package.json`, "utf8"));

const noStyles = {
  name: "no-styles",
  setup(bundle) {
    bundle.onLoad({ filter: /\.css$/ }, () => ({ contents: "", loader: "js" }));
  },
};

await build({
  entryPoints: [`${here}entry.cjs`],
  outfile: `${vendor}plotly-${version}.min.js`,
  bundle: true,
  minify: true,
  format: "iife",
  globalName: "Plotly",
  target: "es2018",
  legalComments: "none",
  plugins: [noStyles],
  define: { global: "window", "process.env.NODE_DEBUG": "false", "define.amd": "false" },
});

const rules = {};
new Function("require", readFileSync(`${source}build/plotcss.js`, "utf8"))(() => ({
  addStyleRule: (selector, style) => (rules[selector] = style),
}));
const sheet = Object.entries(rules)
  .filter(([selector]) => !selector.includes("cloud"))
  .map(([selector, style]) => [selector, style.replace(/font-family:[^;]*;/, "")])
  .filter(([, style]) => style)
  .map(([selector, style]) => `${selector}{${style}}`);
writeFileSync(`${vendor}plotly-${version}.css`, sheet.join("\n") + "\n");
copyFileSync(`${source}LICENSE`, `${vendor}plotly-LICENSE.txt`);

// Writes scanner-<version>.min.js, its wasm and the licences into recycling/web/static/vendor/.
import { build } from "esbuild";
import { copyFileSync, readFileSync, readdirSync, writeFileSync } from "node:fs";
import { fileURLToPath } from "node:url";

const here = fileURLToPath(new URL(".", import.meta.url));
const vendor = `${here}../../recycling/web/static/vendor/`;
const modules = `${here}node_modules/`;
const version = (name) => JSON.parse(readFileSync(`${modules}${name}/package.json`, "utf8")).version;
const name = `scanner-${version("barcode-detector")}`;

await build({
  entryPoints: [`${here}entry.mjs`],
  outfile: `${vendor}${name}.min.js`,
  bundle: true,
  minify: true,
  format: "iife",
  globalName: "SquareReader",
  target: "es2020",
  legalComments: "none",
});
// The reader's own default is an address elsewhere; it is never asked, and not kept.
const script = readFileSync(`${vendor}${name}.min.js`, "utf8");
writeFileSync(`${vendor}${name}.min.js`, script.replace(/https:\/\/[a-z.]+\/npm\/[^`]*(?=`)/g, ""));
copyFileSync(`${modules}zxing-wasm/dist/reader/zxing_reader.wasm`, `${vendor}${name}.wasm`);

const licences = ["barcode-detector", "zxing-wasm"].map((one) => {
  const file = readdirSync(`${modules}${one}`).find((name) => /^licen[cs]e/i.test(name));
  return `${one} ${version(one)}\n\n${readFileSync(`${modules}${one}/${file}`, "utf8").trim()}\n`;
});
writeFileSync(`${vendor}scanner-LICENSE.txt`, licences.join(`\n${"-".repeat(72)}\n\n`));

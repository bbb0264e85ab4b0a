import { BarcodeDetector, prepareZXingModule } from "barcode-detector/ponyfill";

let reader = null;

export function prepare(wasm) {
  prepareZXingModule({ overrides: { locateFile: () => wasm } });
  reader = new BarcodeDetector({ formats: ["qr_code"] });
}

export async function read(image) {
  return (await reader.detect(image)).map((found) => found.rawValue);
}

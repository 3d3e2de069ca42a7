// Reads labels: our QR tags, and the bar codes that districts already have. The browser's own reader where it knows all
// of them, else the one installed with the app, fetched when it is first needed.
const FORMATS = { qr_code: "QRCode", code_39: "Code39", code_128: "Code128", data_matrix: "DataMatrix" };
const WIDEST = 960; // pixels of the picture that is looked at: the thin bars of a long number need more than a tag does

const own = async () => {
  const known = "BarcodeDetector" in window ? await BarcodeDetector.getSupportedFormats() : [];
  if (!Object.keys(FORMATS).every((format) => known.includes(format))) return undefined;
  const detector = new BarcodeDetector({ formats: Object.keys(FORMATS) });
  return async (picture) => (await detector.detect(picture))[0]?.rawValue;
};

/** A function that returns the text on a label in the picture (a video or an image), or undefined. */
export const labelReader = async () => {
  const detect = await own();
  if (detect) return detect;
  const at = (file) => new URL(`../vendor/zxing/reader/${file}`, import.meta.url).href;
  const { prepareZXingModule, readBarcodes } = await import(at("index.js"));
  prepareZXingModule({ overrides: { locateFile: at } });
  const canvas = document.createElement("canvas");
  const pen = canvas.getContext("2d", { willReadFrequently: true });
  return async (picture) => {
    const [width, height] = [picture.videoWidth ?? picture.width, picture.videoHeight ?? picture.height];
    const scale = Math.min(1, WIDEST / width);
    [canvas.width, canvas.height] = [width * scale, height * scale];
    pen.drawImage(picture, 0, 0, canvas.width, canvas.height);
    const seen = pen.getImageData(0, 0, canvas.width, canvas.height);
    const found = await readBarcodes(seen, { formats: Object.values(FORMATS), maxNumberOfSymbols: 1 });
    return found[0]?.text;
  };
};

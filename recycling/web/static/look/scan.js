/* Scanning: a square code before the camera, on a photo, or typed by a keyboard-wedge scanner fills
   a field. Pixels go to a worker (data-worker) and to nobody else. */
(() => {
  "use strict";
  if (window.scanIsReady) return;
  window.scanIsReady = true;
  const MOST_PIXELS_ACROSS = { camera: 1024, photo: 2400, again: 1100 };
  const PAUSE_MS = 120;
  const HAND_MS = 45; /* nobody types a whole code with less than this between two keys */
  const CODE = /^([COPLSRD])[\s-]?([1-9][0-9]{0,8})[\s-]?([0-9A-Z])$/i;
  const LABEL = /\/(?:q\/([\w-]+)|w\/([\w-]+)\/(?:lots|runs|collections))\/([^/?#]+)/i;

  /* What a label's square or a scanner's line says: {slug, code}, or null for anything else. */
  function readLabel(text) {
    const address = /^https?:/i.test(text) ? LABEL.exec(text) : null;
    const bare = CODE.exec((address ? address[3] : text).trim());
    if (!bare) return null;
    const code = `${bare[1]}${bare[2]}-${bare[3]}`.toUpperCase();
    return { slug: address ? (address[1] || address[2]).toLowerCase() : "", code };
  }

  let worker = null;
  let asked = 0;
  function read(address, source, width, height, across) {
    const scale = Math.min(1, across / Math.max(width, height));
    const canvas = document.createElement("canvas");
    [canvas.width, canvas.height] = [Math.round(width * scale), Math.round(height * scale)];
    const pen = canvas.getContext("2d", { willReadFrequently: true });
    pen.drawImage(source, 0, 0, canvas.width, canvas.height);
    const image = pen.getImageData(0, 0, canvas.width, canvas.height);
    worker ||= new Worker(address);
    const number = ++asked;
    return new Promise((resolve, reject) => {
      const done = () => { worker.removeEventListener("message", answered); worker.removeEventListener("error", broken); };
      const answered = ({ data }) => {
        if (data.number !== number) return;
        done();
        if (data.failure) reject(new Error(data.failure)); else resolve(data.found);
      };
      const broken = (event) => { done(); worker = null; reject(new Error(event.message)); };
      worker.addEventListener("message", answered);
      worker.addEventListener("error", broken);
      worker.postMessage({ number, pixels: image.data.buffer, width: image.width, height: image.height }, [image.data.buffer]);
    });
  }

  function tell(field) {
    for (const kind of ["input", "change"]) field.dispatchEvent(new Event(kind, { bubbles: true }));
  }
  /* Put a value into an input, choose it in a list, or tick its radio; false where it is not there. */
  function fill(target, value) {
    if (target.matches("select")) {
      if (![...target.options].some((option) => option.value === value)) return false;
      target.value = value;
    } else if (!target.matches("input, textarea")) {
      const radio = [...target.querySelectorAll("input[type=radio], input[type=checkbox]")].find((one) => one.value === value);
      if (!radio) return false;
      radio.checked = true;
      tell(radio);
      radio.focus();
      return true;
    } else target.value = value;
    tell(target);
    target.focus();
    return true;
  }

  function setUp(panel) {
    const say = (key, more = "") => {
      panel.querySelector(".scan-said").textContent = key ? `${panel.dataset[key]} ${more}`.trim() : "";
    };
    const part = (name) => panel.querySelector(name);
    const video = part("video");
    let stream = null;

    /* Take what was read; true when there is nothing more to look for. */
    function take(text) {
      const target = document.getElementById(panel.dataset.scan);
      if ("submit" in panel.dataset && /^https?:/i.test(text)) {
        target.value = text;
        target.form.requestSubmit();
        return true;
      }
      const label = readLabel(text);
      if (!label) { say("textStranger", text.slice(0, 80)); return false; }
      if (label.slug && label.slug !== panel.dataset.slug.toLowerCase()) { say("textElsewhere", label.code); return false; }
      if (!fill(target, label.code)) { say("textUnfit", label.code); return false; }
      say("textTook", label.code);
      if (navigator.vibrate) navigator.vibrate(60);
      if ("submit" in panel.dataset) target.form.requestSubmit();
      return true;
    }

    function stop() {
      if (stream) stream.getTracks().forEach((track) => track.stop());
      stream = null;
      part(".scan-view").hidden = part("[data-scan-stop]").hidden = true;
      part("[data-scan-start]").hidden = false;
    }
    async function look() {
      while (stream) {
        if (video.videoWidth) {
          const found = await read(panel.dataset.worker, video, video.videoWidth, video.videoHeight, MOST_PIXELS_ACROSS.camera);
          if (stream && found.length && take(found[0])) return stop();
        }
        await new Promise((resolve) => setTimeout(resolve, PAUSE_MS));
      }
      return undefined;
    }
    async function start() {
      if (!window.isSecureContext) return say("textInsecure");
      if (!navigator.mediaDevices) return say("textMissing");
      try {
        stream = await navigator.mediaDevices.getUserMedia({ video: { facingMode: "environment", width: { ideal: 1280 } } });
      } catch (error) {
        return say(error.name === "NotFoundError" ? "textMissing" : "textRefused");
      }
      part("[data-scan-start]").hidden = true;
      part(".scan-view").hidden = part("[data-scan-stop]").hidden = false;
      say("textLooking");
      video.srcObject = stream;
      await video.play();
      try { await look(); } catch { say("textFailed"); stop(); }
      return undefined;
    }
    async function readPhoto(event) {
      const [file] = event.target.files;
      event.target.value = "";
      if (!file) return;
      say("textReading");
      let picture;
      try { picture = await createImageBitmap(file); } catch { say("textNoPicture"); return; }
      try {
        for (const across of [MOST_PIXELS_ACROSS.photo, MOST_PIXELS_ACROSS.again]) {
          const found = await read(panel.dataset.worker, picture, picture.width, picture.height, across);
          if (found.length) { take(found[0]); return; }
        }
        say("textNothing");
      } catch { say("textFailed"); }
    }

    part("[data-scan-start]").addEventListener("click", start);
    part("[data-scan-stop]").addEventListener("click", () => { say(""); stop(); });
    part("[data-scan-photo]").addEventListener("change", readPhoto);
    window.addEventListener("pagehide", stop);
    watchWedge(document.getElementById(panel.dataset.scan), panel, take);
  }

  /* A keyboard-wedge scanner types faster than a hand and ends with Enter or Tab. In a field that is
     one of many its Enter must not send the form; in one that stands alone its Tab must. */
  function watchWedge(field, panel, take) {
    if (!field || !field.matches("input")) return;
    let keys = 0;
    let first = 0;
    let last = 0;
    field.addEventListener("keydown", (event) => {
      const fast = keys >= 4 && (last - first) / keys < HAND_MS && event.timeStamp - last < 4 * HAND_MS;
      if ((event.key === "Enter" || event.key === "Tab") && fast) {
        keys = 0;
        if ("submit" in panel.dataset) {
          event.preventDefault();
          field.form.requestSubmit();
        } else if (readLabel(field.value) || event.key === "Enter") {
          event.preventDefault();
          take(field.value);
        }
        return;
      }
      if (event.key.length !== 1) return;
      if (!keys || event.timeStamp - last > 4 * HAND_MS) [keys, first] = [0, event.timeStamp];
      keys += 1;
      last = event.timeStamp;
    });
  }

  const begin = () => document.querySelectorAll("[data-scan]").forEach((panel) => {
    if (!panel.dataset.ready) { panel.dataset.ready = "1"; setUp(panel); }
  });
  begin();
  document.addEventListener("htmx:afterSwap", begin);
  document.addEventListener("htmx:after:swap", begin);
})();

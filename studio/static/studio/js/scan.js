/* Ticks the layer whose label is scanned, or whose number is typed. Hooks: data-scan on the
   form's part, data-scan-piece with the piece's key; tiles have data-layer. */
(() => {
  const part = document.querySelector("[data-scan]");
  if (!part) return;
  const field = part.querySelector("[data-scan-field]");
  const button = part.querySelector("[data-scan-camera]");
  const video = part.querySelector("video");
  const words = part.querySelector("[role=status]");
  const say = (text) => {
    words.textContent = text;
  };

  function numberIn(text) {
    const plain = text.trim();
    if (/^\d{1,3}$/.test(plain)) return { layer: Number(plain) };
    let address;
    try {
      address = new URL(plain);
    } catch {
      return null;
    }
    const found = address.pathname.match(/^\/pieces\/(\d+)\/layers\/(\d+)\/$/);
    if (!found || address.origin !== window.location.origin) return null;
    return { piece: found[1], layer: Number(found[2]) };
  }

  function take(text) {
    const meant = numberIn(text);
    if (!meant) {
      say("This is no label of this studio.");
    } else if (meant.piece && meant.piece !== part.dataset.scanPiece) {
      say(`This is layer ${meant.layer} of another piece, or another studio's.`);
    } else {
      const tile = document.querySelector(`[data-layer="${meant.layer}"] input[name=passes]`);
      if (tile) tile.checked = true;
      say(tile ? `Layer ${meant.layer} is ticked.` : `Layer ${meant.layer} waits for no paint.`);
    }
  }

  field.addEventListener("keydown", (event) => {
    if (event.key !== "Enter") return;
    event.preventDefault();
    if (field.value) take(field.value);
    field.value = "";
  });

  if (!("BarcodeDetector" in window) || !navigator.mediaDevices) return;
  button.hidden = false;
  const told = button.textContent;

  function close() {
    for (const track of video.srcObject?.getTracks() ?? []) track.stop();
    video.srcObject = null;
    video.hidden = true;
    button.textContent = told;
  }

  document.addEventListener("visibilitychange", () => {
    if (document.hidden) close();
  });
  button.addEventListener("click", async () => {
    if (video.srcObject) return close();
    const detector = new BarcodeDetector({ formats: ["qr_code"] });
    try {
      const stream = await navigator.mediaDevices.getUserMedia({ video: { facingMode: "environment" } });
      video.srcObject = stream;
      video.hidden = false;
      button.textContent = "Close the camera";
      await video.play();
      let last = "";
      const timer = setInterval(async () => {
        if (!video.srcObject?.active) return clearInterval(timer);
        const [code] = await detector.detect(video);
        if (!code || code.rawValue === last) return;
        last = code.rawValue;
        take(last);
      }, 300);
    } catch (problem) {
      say(`The camera does not open: ${problem.message}. Type the layer's number instead.`);
    }
  });
})();

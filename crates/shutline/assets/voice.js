// A note that is spoken: recorded by the browser, heard before it is kept, put into the form's file field. Where the
// browser cannot record (or the page is no secure place) the file field stands alone.
const KINDS = ["audio/webm;codecs=opus", "audio/mp4", "audio/ogg;codecs=opus"];

const able = () => window.isSecureContext && navigator.mediaDevices?.getUserMedia && window.MediaRecorder && window.DataTransfer;

function begin() {
  if (!able()) return;
  for (const place of document.querySelectorAll("[data-voice]:not([data-ready])")) ready(place);
}

function ready(place) {
  place.dataset.ready = "1";
  place.hidden = false;
  const button = place.querySelector("[data-record]");
  const said = place.querySelector("[data-said]");
  const heard = place.querySelector("[data-heard]");
  const file = place.closest("form").querySelector("input[type=file]");
  const longest = Number(place.dataset.longest);
  let recorder = null;

  async function start() {
    let stream;
    try {
      stream = await navigator.mediaDevices.getUserMedia({ audio: { channelCount: 1, noiseSuppression: true } });
    } catch (error) {
      console.warn("no microphone", error);
      said.textContent = "The microphone cannot be used. Allow it for this page, or choose a recording below.";
      return;
    }
    const mimeType = KINDS.find((k) => MediaRecorder.isTypeSupported(k));
    recorder = new MediaRecorder(stream, { mimeType, audioBitsPerSecond: 32000 });
    const parts = [];
    const began = Date.now();
    const tick = setInterval(() => {
      const seconds = Math.floor((Date.now() - began) / 1000);
      said.textContent = `Recording, ${seconds} of ${longest} s`;
      if (seconds >= longest) recorder?.stop();
    }, 250);
    recorder.addEventListener("dataavailable", (event) => event.data.size && parts.push(event.data));
    recorder.addEventListener("stop", () => {
      clearInterval(tick);
      stream.getTracks().forEach((t) => t.stop());
      const kind = (recorder.mimeType || mimeType || "audio/webm").split(";")[0];
      recorder = null;
      button.textContent = "Record again";
      const sound = new File(parts, `note.${kind.split("/")[1]}`, { type: kind });
      const files = new DataTransfer();
      files.items.add(sound);
      file.files = files.files;
      if (heard.src) URL.revokeObjectURL(heard.src);
      heard.src = URL.createObjectURL(sound);
      heard.hidden = false;
      const seconds = Math.max(1, Math.round((Date.now() - began) / 1000));
      said.textContent = `Recorded, ${seconds} s. Keep it, or record again.`;
    });
    recorder.start(1000);
    button.textContent = "Stop";
  }

  button.addEventListener("click", () => (recorder ? recorder.stop() : start()));
  place.closest("form").addEventListener("reset", () => {
    heard.hidden = true;
    said.textContent = "";
    button.textContent = "Record";
  });
}

begin();
document.addEventListener("renewed", begin);

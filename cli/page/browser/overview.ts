/** The whole piece in a strip: waveform, unsure notes, differing bars, the part in view. A click goes there. */
import { byId, fit } from "./dom.js";
import { type Model, verdictOf } from "./model.js";
import { waveShare } from "./picture-lane.js";

export function makeOverview(model: Model, goTo: (sec: number) => void): { draw: () => void } {
  const canvas = byId<HTMLCanvasElement>("overview");
  let last: readonly unknown[] = [];
  let still: HTMLCanvasElement | undefined;
  const secAtX = (event: PointerEvent): number =>
    (event.offsetX / canvas.clientWidth) * model.state.sheet.durationSec;
  canvas.addEventListener("pointerdown", (event) => {
    canvas.setPointerCapture(event.pointerId);
    goTo(secAtX(event));
  });
  canvas.addEventListener("pointermove", (event) => {
    if (event.buttons === 1) goTo(secAtX(event));
  });

  function drawStill(width: number, height: number): HTMLCanvasElement {
    const sheet = document.createElement("canvas");
    const ink = fit(sheet, width, height);
    const total = model.state.sheet.durationSec;
    ink.fillStyle = "#e6deca";
    ink.fillRect(0, 0, width, height);
    for (const bar of model.state.sheet.bars)
      if (verdictOf(model, bar.bar) === "differs") {
        ink.fillStyle = "#eeb894";
        ink.fillRect(
          (bar.startSec / total) * width,
          0,
          Math.max(2, ((bar.endSec - bar.startSec) / total) * width),
          height,
        );
      }
    ink.fillStyle = "#51708a";
    const { peaks } = model;
    if (peaks)
      for (let x = 0; x < width; x++) {
        const from = Math.floor((x / width) * total * 100);
        const to = Math.max(from + 1, Math.floor(((x + 1) / width) * total * 100));
        let peak = 0;
        for (let k = from; k < to; k++) peak = Math.max(peak, peaks[k] ?? 0);
        const h = waveShare(peak) * (height - 8);
        ink.fillRect(x, height - 2 - h, 1, h);
      }
    ink.fillStyle = "#7a1f00";
    for (const note of model.state.sheet.notes)
      if (note.isUnsure) ink.fillRect((note.startSec / total) * width, 0, 2, 5);
    return sheet;
  }

  return {
    draw() {
      const width = canvas.parentElement?.clientWidth ?? 0;
      const height = 34;
      if (width === 0) return;
      const ink = fit(canvas, width, height);
      const { sheet, check } = model.state;
      const now = [width, sheet, check, model.peaks, window.devicePixelRatio];
      if (!still || !now.every((x, k) => x === last[k])) {
        still = drawStill(width, height);
        last = now;
      }
      ink.drawImage(still, 0, 0, width, height);
      const total = model.state.sheet.durationSec;
      const from = (model.leftSec / total) * width;
      const long = (model.viewPx / model.pxPerSec / total) * width;
      ink.strokeStyle = "#10223a";
      ink.lineWidth = 2;
      ink.strokeRect(Math.max(1, from), 1, Math.min(width - 2, long), height - 2);
      ink.fillStyle = "#10223a";
      ink.fillRect((model.playSec / total) * width, 0, 2, height);
    },
  };
}

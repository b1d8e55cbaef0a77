/** The picture over the sheet: bar numbers with the check's verdict, waveform, spectrum by pitch, heard notes, the grid over all of it.
 * Only what is in view is drawn, from tiles that are fetched as they come near. */
import { PICTURE } from "../view-types.js";
import { fit } from "./dom.js";
import { loadBytes } from "./link.js";
import { caretSec, type Model, noteAtCaret, verdictOf } from "./model.js";

const ROWS = (PICTURE.highestMidi - PICTURE.lowestMidi + 1) * PICTURE.rowsPerSemitone;
const COLUMNS = PICTURE.tileSec * PICTURE.columnsPerSec;
const RULER_PX = 24;
const WAVE_SHARE = 0.2;
/** Paper to ink. Lightness alone carries the level, so it reads in any colour vision and in print. */
const PAPER = [250, 247, 240];
const MIDDLE = [126, 160, 178];
const INK = [16, 34, 58];
const QUIET = 90; // bytes under this are the room's noise: paper

type Tile = HTMLCanvasElement | "asked";

export type PictureLane = {
  /** @returns whether all that the view should show was there to be drawn */
  draw: (ink: CanvasRenderingContext2D, width: number, height: number) => boolean;
  /** Heights of the pitches that are named at the side. */
  pitchMarks: (height: number) => { midi: number; y: number }[];
};

export function makePictureLane(model: Model, redraw: () => void): PictureLane {
  const tiles = new Map<number, Tile>();
  const colours = colourTable();

  function tileAt(idx: number): HTMLCanvasElement | undefined {
    const known = tiles.get(idx);
    if (known) return known === "asked" ? undefined : known;
    if (model.state.take.kind !== "ready") return undefined;
    tiles.set(idx, "asked");
    void loadBytes(`picture/${idx}`).then((bytes) => {
      if (!bytes) {
        tiles.delete(idx);
        return;
      }
      tiles.set(idx, paint(bytes, colours));
      redraw();
    });
    return undefined;
  }

  const layout = (height: number): { waveTop: number; waveH: number; top: number; h: number } => {
    const waveH = Math.round((height - RULER_PX) * WAVE_SHARE);
    const top = RULER_PX + waveH;
    return { waveTop: RULER_PX, waveH, top, h: height - top };
  };
  const pitchY = (midi: number, top: number, h: number): number =>
    top + h - ((midi - PICTURE.lowestMidi + 0.5) / (PICTURE.highestMidi - PICTURE.lowestMidi + 1)) * h;

  return {
    pitchMarks(height) {
      const { top, h } = layout(height);
      return NAMED_MIDI.map((midi) => ({ midi, y: pitchY(midi, top, h) }));
    },
    draw(ink, width, height) {
      const { waveTop, waveH, top, h } = layout(height);
      const { leftSec, pxPerSec } = model;
      const rightSec = leftSec + width / pxPerSec;
      const x = (sec: number): number => (sec - leftSec) * pxPerSec;
      ink.fillStyle = "#faf7f0";
      ink.fillRect(0, 0, width, height);
      ink.imageSmoothingEnabled = true;
      const firstTile = Math.max(0, Math.floor(leftSec / PICTURE.tileSec));
      const lastTile = Math.floor(rightSec / PICTURE.tileSec);
      const { take } = model.state;
      const tileCount = take.kind === "ready" ? Math.ceil(take.durationSec / PICTURE.tileSec) : 0;
      let isWhole = tileCount > 0 && model.peaks !== undefined;
      for (let idx = firstTile; idx <= Math.min(lastTile, tileCount - 1); idx++) {
        const tile = tileAt(idx);
        if (!tile) isWhole = false;
        const from = x(idx * PICTURE.tileSec);
        if (tile) ink.drawImage(tile, from, top, PICTURE.tileSec * pxPerSec, h);
      }
      if (lastTile + 1 < tileCount) tileAt(lastTile + 1);
      drawWave(ink, model, waveTop, waveH, width);
      drawPitches(ink, width, (midi) => pitchY(midi, top, h));
      drawGrid(ink, model, width, height, x);
      drawHeard(ink, model, width, (midi) => pitchY(midi, top, h), h, x);
      drawRuler(ink, model, width, x);
      const note = noteAtCaret(model);
      if (note) {
        const [cx, cy] = [x(note.startSec), pitchY(note.midi, top, h)];
        ink.lineWidth = 4;
        ink.strokeStyle = "#faf7f0";
        ink.strokeRect(cx - 6, cy - 6, 12, 12);
        ink.lineWidth = 2;
        ink.strokeStyle = "#10223a";
        ink.strokeRect(cx - 6, cy - 6, 12, 12);
      }
      const cx = x(caretSec(model));
      ink.fillStyle = "rgba(16,34,58,.35)";
      ink.fillRect(cx, RULER_PX, 1, height);
      return isWhole;
    },
  };
}

/** The E of each octave: the outer strings and their octaves. */
const NAMED_MIDI = [40, 52, 64, 76] as const;

function drawPitches(ink: CanvasRenderingContext2D, width: number, y: (midi: number) => number): void {
  ink.fillStyle = "rgba(120,60,10,.16)";
  for (const midi of NAMED_MIDI) ink.fillRect(0, Math.round(y(midi)), width, 1);
}

/** Height of the waveform for a peak of 0…255, 0…1: soft notes are seen beside loud ones. */
export const waveShare = (peak: number): number => (peak / 255) ** 0.7;

function drawWave(ink: CanvasRenderingContext2D, model: Model, top: number, h: number, width: number): void {
  const { peaks, leftSec, pxPerSec } = model;
  if (!peaks) return;
  ink.fillStyle = "#51708a";
  const middle = top + h / 2;
  const perPx = PICTURE.peaksPerSec / pxPerSec;
  ink.beginPath();
  for (let px = 0; px < width; px += 2) {
    const from = Math.floor((leftSec + px / pxPerSec) * PICTURE.peaksPerSec);
    const to = Math.max(from + 1, Math.floor(from + 2 * perPx));
    let peak = 0;
    for (let k = from; k < to; k++) peak = Math.max(peak, peaks[k] ?? 0);
    const half = Math.max(0.5, waveShare(peak) * (h / 2 - 3));
    ink.rect(px, middle - half, 1.4, 2 * half);
  }
  ink.fill();
}

function drawGrid(
  ink: CanvasRenderingContext2D,
  model: Model,
  width: number,
  height: number,
  x: (sec: number) => number,
): void {
  const beatPx = (model.pxPerSec * 60) / model.state.sheet.tempoBpm;
  for (const bar of model.state.sheet.bars) {
    if (x(bar.endSec) < 0 || x(bar.startSec) > width) continue;
    for (let step = 0; step * 3 < bar.ticks; step++) {
      const tick = step * 3;
      const isBeat = tick % 24 === 0;
      if (!isBeat && (tick % model.stepTicks !== 0 || beatPx < 60)) continue;
      if (isBeat && tick > 0 && beatPx < 14) continue;
      const at = Math.round(x(bar.tickSec[step] ?? 0));
      ink.fillStyle =
        tick === 0 ? "rgba(120,60,10,.75)" : isBeat ? "rgba(120,60,10,.38)" : "rgba(120,60,10,.16)";
      ink.fillRect(at, tick === 0 ? 0 : RULER_PX, tick === 0 ? 2 : 1, height);
    }
  }
}

function drawHeard(
  ink: CanvasRenderingContext2D,
  model: Model,
  width: number,
  y: (midi: number) => number,
  h: number,
  x: (sec: number) => number,
): void {
  const rowPx = h / (PICTURE.highestMidi - PICTURE.lowestMidi + 1);
  for (const note of model.heard) {
    if (note.isDoubtful && !model.showsDoubtful) continue;
    const from = x(note.onsetSec);
    if (from > width) break;
    const to = x(Math.min(note.offsetSec, note.onsetSec + 3));
    if (to < 0) continue;
    const centre = y(note.midi);
    const thick = Math.max(3, Math.min(8, rowPx * (0.5 + 0.7 * note.confidence)));
    const long = Math.max(5, to - from);
    // sure: full; unsure: hollow; doubtful: only a dotted head. A light rim keeps each visible on ink and on paper.
    ink.lineWidth = 3;
    ink.strokeStyle = "rgba(250,247,240,.9)";
    if (note.isDoubtful) {
      ink.setLineDash([2, 2]);
      ink.lineWidth = 1.5;
      ink.strokeStyle = "#8a3b00";
      ink.strokeRect(from, centre - 3, 7, 6);
      ink.setLineDash([]);
      continue;
    }
    ink.strokeRect(from, centre - thick / 2, long, thick);
    if (note.confidence >= 0.75) {
      ink.fillStyle = "#d55e00";
      ink.fillRect(from, centre - thick / 2, long, thick);
      ink.fillStyle = "#5c2400";
      ink.fillRect(from, centre - thick / 2 - 1, 2.5, thick + 2);
    } else {
      ink.lineWidth = 1.5;
      ink.strokeStyle = "#b34a00";
      ink.strokeRect(from, centre - thick / 2, long, thick);
      ink.fillStyle = "#5c2400";
      ink.fillRect(from, centre - thick / 2 - 1, 2.5, thick + 2);
    }
  }
}

const VERDICT_SIGNS = { same: "✓", differs: "≠", unsure: "~" } as const;

function drawRuler(
  ink: CanvasRenderingContext2D,
  model: Model,
  width: number,
  x: (sec: number) => number,
): void {
  ink.fillStyle = "#efe8d8";
  ink.fillRect(0, 0, width, RULER_PX);
  ink.textBaseline = "middle";
  let free = Number.NEGATIVE_INFINITY;
  for (const bar of model.state.sheet.bars) {
    const from = x(bar.startSec);
    const to = x(bar.endSec);
    if (to < 0 || from > width) continue;
    const verdict = verdictOf(model, bar.bar);
    if (verdict === "differs") {
      ink.fillStyle = "#f3d3bd";
      ink.fillRect(from, 0, to - from, RULER_PX);
    }
    ink.fillStyle = "#783c0a";
    ink.fillRect(Math.round(from), 0, 2, RULER_PX);
    if (from < free) continue;
    ink.fillStyle = "#10223a";
    ink.font = `${bar.bar === model.caret.bar ? "700" : "400"} 13px system-ui, sans-serif`;
    const label = `${bar.bar === 0 ? "pick-up" : bar.bar}${verdict ? ` ${VERDICT_SIGNS[verdict]}` : ""}`;
    ink.fillText(label, from + 6, RULER_PX / 2 + 1);
    free = from + ink.measureText(label).width + 10;
  }
}

function colourTable(): Uint8Array {
  const table = new Uint8Array(256 * 3);
  for (let level = 0; level < 256; level++) {
    const share = Math.max(0, (level - QUIET) / (255 - QUIET)) ** 1.1;
    const [from, to, part] = share < 0.5 ? [PAPER, MIDDLE, share * 2] : [MIDDLE, INK, share * 2 - 1];
    for (let c = 0; c < 3; c++)
      table[level * 3 + c] = (from[c] ?? 0) + part * ((to[c] ?? 0) - (from[c] ?? 0));
  }
  return table;
}

function paint(bytes: Uint8Array, colours: Uint8Array): HTMLCanvasElement {
  const canvas = document.createElement("canvas");
  const ink = fit(canvas, COLUMNS, ROWS);
  canvas.width = COLUMNS;
  canvas.height = ROWS;
  const image = ink.createImageData(COLUMNS, ROWS);
  // levels against the tile's own loudest, so that a quiet take is seen too
  let loudest = 120;
  for (const level of bytes) if (level > loudest) loudest = level;
  const lift = 245 - loudest;
  for (let column = 0; column < COLUMNS; column++)
    for (let row = 0; row < ROWS; row++) {
      const level = Math.max(0, Math.min(255, (bytes[column * ROWS + row] ?? 0) + lift));
      const at = ((ROWS - 1 - row) * COLUMNS + column) * 4;
      for (let c = 0; c < 3; c++) image.data[at + c] = colours[level * 3 + c] ?? 0;
      image.data[at + 3] = 255;
    }
  ink.putImageData(image, 0, 0);
  return canvas;
}

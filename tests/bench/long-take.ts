import { closeSync, openSync, writeSync } from "node:fs";
import { resample } from "../../src/dsp/resample.js";
import { sheetToText } from "../../src/sheet/text.js";
import { studyNamed } from "../helpers/takes/studies.js";
import { renderTake } from "../helpers/takes/take.js";
import { toSheet } from "../helpers/takes/to-sheet.js";
import { wavBytes } from "../helpers/takes/wave.js";

const STUDY = "ladder-and-lamp";
const PLAYINGS = 4; // the study as played four times, each with its own timing, then those four again
const RATE_HZ = 44_100; // what recorders and phones write

/** What `writeLongTake` wrote, and what a player would say of it on the command line. */
export type LongTake = { sec: number; tempoBpm: number; sheetText: string };

/** Writes a study played over and over, on a recorded guitar, as a 16-bit WAV of at least `leastSec`; never more than one playing lies
 * in memory. @throws Error when no guitar is here */
export async function writeLongTake(path: string, leastSec: number): Promise<LongTake> {
  const study = studyNamed(STUDY);
  const parts: Uint8Array[] = [];
  for (let seed = 1; seed <= PLAYINGS; seed++) {
    const { take } = await renderTake(study, { bank: "steel", seed });
    parts.push(wavBytes(resample(take.samples, take.sampleRateHz, RATE_HZ), RATE_HZ).subarray(44));
  }
  const wantedLen = Math.ceil(leastSec * RATE_HZ * 2);
  const chosen: Uint8Array[] = [];
  let dataLen = 0;
  for (let k = 0; dataLen < wantedLen; k++) {
    const part = parts[k % PLAYINGS] as Uint8Array;
    chosen.push(part);
    dataLen += part.length;
  }
  const head = wavBytes(new Float32Array(0), RATE_HZ);
  const view = new DataView(head.buffer);
  view.setUint32(4, 36 + dataLen, true);
  view.setUint32(40, dataLen, true);
  const file = openSync(path, "w");
  try {
    for (const part of [head, ...chosen]) writeSync(file, part);
  } finally {
    closeSync(file);
  }
  return {
    sec: dataLen / 2 / RATE_HZ,
    tempoBpm: study.tempoBpm,
    sheetText: sheetToText(toSheet(study)),
  };
}

import { spawnSync } from "node:child_process";
import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { studyNamed } from "../helpers/takes/studies.js";
import { renderTake } from "../helpers/takes/take.js";
import { optionsFor } from "./draft.js";

/** Drafts a take of about `lengthSec` in a process of its own and tells its seconds and peak memory, as lines for a table's foot.
 * The longer take is the same study over and over. */
export async function draftAlone(lengthSec: number): Promise<string[]> {
  const study = studyNamed("ladder-and-lamp");
  const { take } = await renderTake(study, { bank: "steel", seed: 1 });
  const copies = Math.max(1, Math.round((lengthSec * take.sampleRateHz) / take.samples.length));
  const all = new Float32Array(take.samples.length * copies);
  for (let k = 0; k < copies; k++) all.set(take.samples, k * take.samples.length);
  const dir = mkdtempSync(join(tmpdir(), "pulgar-draft-"));
  try {
    writeFileSync(join(dir, "take.f32"), Buffer.from(all.buffer));
    const options = JSON.stringify(optionsFor(study));
    const script = join(import.meta.dirname, "draft-once.ts");
    const args = ["--import", "tsx", script, join(dir, "take.f32"), String(take.sampleRateHz), options];
    const run = spawnSync(process.execPath, args, { encoding: "utf8", maxBuffer: 1 << 26 });
    if (run.status !== 0) throw new Error(`drafting alone failed: ${run.stderr}`);
    const told = JSON.parse(run.stdout) as { seconds: number; peakMb: number; notes: number };
    const sec = all.length / take.sampleRateHz;
    return [
      `a ${sec.toFixed(0)} s take in its own process: ${told.seconds.toFixed(2)} s with loading, peak memory ${told.peakMb.toFixed(0)} MB, ${told.notes} notes`,
    ];
  } finally {
    rmSync(dir, { recursive: true, force: true });
  }
}

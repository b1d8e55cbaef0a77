// The listener on the common takes, before any help from grid, repeats or hands: notes, error kinds, confidence, strings, tuning, speed.
// Scored as mir_eval does (tests/helpers/score); tuning in cents against what the take was rendered with, which is the notes' pitch from 0.08
// to 0.43 s after the pluck (helpers/takes/bank.ts). Flags: --runtime=wasm, --clean, --bank=NAME, --hours=N another long take for memory.
// Memory is that of the program as built: `npm run build` first.
import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { openListener } from "../../cli/listener-runtime.js";
import type { Take } from "../../src/audio/take.js";
import { listen } from "../../src/notes/listen.js";
import type { PlayedNote } from "../../src/notes/played-note.js";
import { errorKinds, matchNotes, scoreNotes } from "../helpers/score/notes.js";
import type { RenderedTake } from "../helpers/takes/take.js";
import { type BenchCase, type BenchTable, type Cell, mean } from "./bench-case.js";
import { renderRow, takeSet } from "./take-set.js";
import { BUILT, type Timed, timed } from "./timed.js";

type Sure = { confidence: number; right: boolean };

/** Expected calibration error over ten equal bins (Naeini et al. 2015). */
export function calibrationError(said: readonly Sure[]): number {
  let sum = 0;
  for (let bin = 0; bin < 10; bin++) {
    const inside = said.filter((s) => Math.min(9, Math.floor(s.confidence * 10)) === bin);
    const right = inside.filter((s) => s.right).length;
    sum += Math.abs(right - inside.reduce((a, s) => a + s.confidence, 0));
  }
  return said.length === 0 ? 0 : sum / said.length;
}

/** Which notes are right, of all said. */
function judged(ref: RenderedTake["notes"], notes: readonly PlayedNote[]): Sure[] {
  const hit = new Set(matchNotes(ref, notes).map(([, e]) => e));
  return notes.map((n, idx) => ({ confidence: n.confidence, right: hit.has(idx) }));
}

/** Notes playable on two or more strings of this tuning within 15 frets: of how many the listener claims to know the string (it gives
 * shares at all), and how many of those it names right. */
function strings(
  take: RenderedTake,
  notes: readonly PlayedNote[],
): { named: number; right: number; all: number } {
  const open = take.study.openMidi.map((m) => m + take.study.capo);
  let named = 0;
  let right = 0;
  let all = 0;
  for (const [r, e] of matchNotes(take.notes, notes)) {
    const note = take.notes[r];
    const heard = notes[e];
    if (note === undefined || heard === undefined) continue;
    const fits = open.map((o) => note.midi - o >= 0 && note.midi - o <= 15).reverse();
    if (fits.filter(Boolean).length < 2) continue;
    all++;
    if (heard.stringShares === undefined) continue;
    const shares = heard.stringShares.map((s, k) => (fits[k] ? s : 0));
    named++;
    if (shares.indexOf(Math.max(...shares)) + 1 === note.string) right++;
  }
  return { named, right, all };
}

const LONG_SEC = 600;

/** Seconds and peak memory of listening to so much of the takes in a row with the program as built, in a process of its own. */
async function listenAlone(takes: readonly Take[], sec: number, runtime: string): Promise<Timed> {
  const dir = mkdtempSync(join(tmpdir(), "pulgar-listen-"));
  try {
    const path = join(dir, "take.f32");
    writeFileSync(path, new Uint8Array(takeInARow(takes, sec).samples.buffer));
    const run = await timed(process.execPath, [
      join(import.meta.dirname, "listen-once.mjs"),
      BUILT,
      path,
      runtime,
    ]);
    if (run.code !== 0) throw new Error("listening alone failed: is the program built (npm run build)?");
    return run;
  } finally {
    rmSync(dir, { recursive: true, force: true });
  }
}

/** What a take of `sec` adds to the peak of one of `LONG_SEC`, beside what its sound takes. */
async function memoryLines(
  takes: readonly Take[],
  moreSec: readonly number[],
  runtime: string,
): Promise<string[]> {
  const soundMb = (sec: number): number => (sec * (takes[0] as Take).sampleRateHz * 4) / 2 ** 20;
  const said = (sec: number, run: Timed): string =>
    `alone, as built: ${sec} s in ${run.sec.toFixed(1)} s with loading, peak ${run.peakMb.toFixed(0)} MB`;
  const base = await listenAlone(takes, LONG_SEC, runtime);
  const lines = [said(LONG_SEC, base)];
  for (const sec of moreSec) {
    const run = await listenAlone(takes, sec, runtime);
    const [grown, sound] = [run.peakMb - base.peakMb, soundMb(sec - LONG_SEC)];
    lines.push(`${said(sec, run)}: ${grown.toFixed(0)} MB more, the sound itself ${sound.toFixed(0)}`);
  }
  return lines;
}

/** The same takes one after the other, over and over, for so long; at the rate of the first, at which all are rendered. */
function takeInARow(takes: readonly Take[], sec: number): Take {
  const first = takes[0] as Take;
  const samples = new Float32Array(Math.round(sec * first.sampleRateHz));
  for (let at = 0, k = 0; at < samples.length; k++) {
    const part = (takes[k % takes.length] as Take).samples.subarray(0, samples.length - at);
    samples.set(part, at);
    at += part.length;
  }
  return { ...first, samples };
}

async function run({ quick, flags, log }: Parameters<BenchCase["run"]>[0]): Promise<BenchTable> {
  const runtime = flags.includes("--runtime=wasm") ? "wasm" : "native";
  const folder = flags.find((f) => f.startsWith("--weights="))?.slice("--weights=".length);
  const listener = await openListener({ runtime, ...(folder === undefined ? {} : { folder }) });
  const only = flags.find((f) => f.startsWith("--bank="))?.slice(7);
  const { rows, notes: remarks } = takeSet(quick);
  const table: Cell[][] = [];
  const sounds: Take[] = [];
  const all: Record<string, { said: Sure[]; kinds: Record<string, number> }> = {};
  for (const row of rows) {
    if (flags.includes("--clean") && row.condition !== "clean") continue;
    if (only !== undefined && row.bank !== only) continue;
    const take = await renderRow(row);
    sounds.push(take.take);
    const beganMs = performance.now();
    const heard = await listen(take.take, listener.run, { card: listener.card });
    const tookSec = (performance.now() - beganMs) / 1000;
    const from = (take.performance.beatSec[0] ?? 0) - 0.1;
    const notes = heard.notes;
    const score = scoreNotes(take.notes, notes);
    const kinds = errorKinds(take.notes, notes);
    const place = strings(take, notes);
    all[row.condition] ??= { said: [], kinds: {} };
    const group = all[row.condition] as (typeof all)[string];
    group.said.push(...judged(take.notes, [...notes, ...heard.candidates]));
    for (const [side, list] of Object.entries(kinds))
      for (const [kind, count] of Object.entries(list)) {
        const key = `${side === "falseNotes" ? "false" : "missed"} ${kind}`;
        group.kinds[key] = (group.kinds[key] ?? 0) + count;
      }
    const before = notes.filter((n) => n.onsetSec < from).length;
    table.push([
      row.study.name,
      row.bank,
      row.condition,
      score.onset.f1,
      score.onset.precision,
      score.onset.recall,
      score.onsetOffset.f1,
      take.notes.length,
      before,
      heard.tuningCents - take.tuningCents,
      place.named,
      place.right,
      place.all,
      heard.durationSec / tookSec,
    ]);
    log(`${row.study.name} ${row.bank} ${row.condition} ${score.onset.f1.toFixed(4)}`);
  }
  if (sounds[0] !== undefined) {
    const long = takeInARow(sounds, LONG_SEC);
    const beganMs = performance.now();
    const { durationSec } = await listen(long, listener.run, { card: listener.card });
    const tookSec = (performance.now() - beganMs) / 1000;
    remarks.push(
      `${Math.round(durationSec)} s of these takes in a row: ${tookSec.toFixed(1)} s, ${(durationSec / tookSec).toFixed(1)} times real time`,
    );
    const hours = Number(flags.find((f) => f.startsWith("--hours="))?.slice("--hours=".length) ?? 0);
    const more = [2 * LONG_SEC, ...(hours > 0 ? [hours * 3600] : [])];
    if (!quick) remarks.push(...(await memoryLines(sounds, more, runtime)));
  }
  await listener.close();
  const summary: Cell[][] = [];
  for (const condition of ["clean", "hard"]) {
    const part = table.filter((r) => r[2] === condition);
    if (part.length === 0) continue;
    const column = (k: number): number[] => part.map((r) => r[k] as number);
    const sum = (k: number): number => column(k).reduce((a, b) => a + b, 0);
    const group = all[condition];
    summary.push([
      `mean ${condition}`,
      "",
      `ECE ${calibrationError(group?.said ?? []).toFixed(4)}`,
      ...[3, 4, 5, 6].map((k) => mean(column(k))),
      sum(7),
      sum(8),
      Math.max(...column(9).map(Math.abs)),
      sum(10),
      sum(11) / Math.max(1, sum(10)),
      sum(12),
      mean(column(13)),
    ]);
    for (const bank of [...new Set(part.map((r) => r[1] as string))]) {
      const own = part.filter((r) => r[1] === bank);
      summary.push([
        `  ${condition} ${bank}`,
        "",
        "",
        ...[3, 4, 5, 6].map((k) => mean(own.map((r) => r[k] as number))),
      ]);
    }
    const kinds = Object.entries(group?.kinds ?? {}).filter(([, n]) => n > 0);
    remarks.push(`${condition}: ${kinds.map(([k, n]) => `${k} ${n}`).join(", ")}`);
  }
  return {
    title: `listening, ${runtime}`,
    columns: [
      "study",
      "guitar",
      "condition",
      "onset F1",
      "P",
      "R",
      "+offset F1",
      "notes",
      "before music",
      "tuning off",
      "string named",
      "right",
      "of",
      "x real time",
    ],
    rows: table,
    summary,
    notes: remarks,
  };
}

export default { name: "listen", run } satisfies BenchCase;

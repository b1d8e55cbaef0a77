/** `pulgar practice`: slow versions of the take, loops, a series that speeds up, a backing track. */
import { join } from "node:path";
import { PulgarError } from "../../src/base/errors.js";
import { encodeWav } from "../../src/export/wav.js";
import { backingTrack } from "../../src/play/backing.js";
import { PRACTICE_CAUTION } from "../../src/play/caution.js";
import { PRACTICE_DEFAULTS, practiceTrack } from "../../src/play/practice.js";
import type { Sheet } from "../../src/sheet/sheet.js";
import { type Flags, textFlag } from "../arguments.js";
import { openTake } from "../decoder.js";
import { type EncodedKind, encodeSound } from "../encode.js";
import { refuseOverwrite, stemOf, writeWhole } from "../files.js";
import { numberIn, wholeIn } from "../flag-values.js";
import { mixByWebAudio } from "../mixdesk.js";
import { openSheet } from "../open-sheet.js";
import { openStretcher } from "../stretcher.js";
import { takeOfSheet } from "../take-of-sheet.js";
import { type Io, progressLine } from "../terminal.js";

const BACKING_RATE_HZ = 44_100;
const CLIMB_STEP = 5; // percent: small enough that a hand does not notice the step

const CLASHES = [
  ["bars", "part"],
  ["held-bass", "no-held-bass"],
] as const;

type Wanted = { name: string; percent: number };

export async function command(args: readonly string[], flags: Flags, io: Io): Promise<number> {
  const sheetPath = args[0] ?? "";
  for (const [one, other] of CLASHES)
    if (flags[one] !== undefined && flags[other] !== undefined)
      throw new PulgarError(
        "bad-usage",
        `--${one} and --${other}: only one of them can be`,
        "Leave one out.",
      );
  const { sheet } = await openSheet(sheetPath, flags);
  const kind = (textFlag(flags, "encode") ?? "wav") as "wav" | EncodedKind;
  const stem = stemOf(sheetPath).replace(/\.(tab|sheet)$/, "");
  const outDir = textFlag(flags, "out") ?? `${stem}-practice`;
  const wanted = wantedTracks(flags);
  const takePath = await takeOfSheet(sheet, sheetPath, textFlag(flags, "take"));
  const canSlow = takePath !== undefined && sheet.grid.beatSec.length > 1;
  const fileOf = (name: string): string => join(outDir, `${stem}-${name}.${kind}`);
  const names = [...(canSlow ? wanted.map((w) => w.name) : []), "backing"];
  const force = flags.force === true;
  await refuseOverwrite(names.map(fileOf), { force, inputs: [sheetPath] });
  const progress = progressLine(io);
  const written: string[] = [];
  const save = async (name: string, channels: Float32Array[], sampleRateHz: number): Promise<void> => {
    const wav = encodeWav(channels, sampleRateHz);
    await writeWhole(fileOf(name), kind === "wav" ? wav : await encodeSound(wav, kind), { force });
    written.push(fileOf(name));
  };
  if (canSlow) {
    const { take } = await openTake(takePath);
    const openStretch = await openStretcher();
    const stretchOf = barsOf(flags, sheet);
    for (const [k, track] of wanted.entries()) {
      progress.onProgress("slow versions", k / wanted.length);
      const plan = {
        percent: track.percent,
        ...stretchOf,
        countInBeats: sheet.grid.meter.beats,
        clickGain: flags["no-click"] === true ? 0 : PRACTICE_DEFAULTS.clickGain,
      };
      const made = practiceTrack(take.samples, take.sampleRateHz, sheet.grid, plan, openStretch);
      await save(track.name, [made.samples], take.sampleRateHz);
    }
  }
  progress.onProgress("backing", 0.9);
  const backing = await backingTrack(sheet, {
    sampleRateHz: BACKING_RATE_HZ,
    heldBass: flags["held-bass"] === true || (flags["no-held-bass"] !== true && hasHeldBass(sheet)),
    rounds: wholeIn(textFlag(flags, "rounds") ?? "4", "--rounds", 1, 100, "times"),
    countInBeats: sheet.grid.meter.beats,
    mix: mixByWebAudio,
  });
  await save("backing", [backing.left, backing.right], BACKING_RATE_HZ);
  progress.done();
  if (!canSlow) io.err(`note: no slow versions: ${noSlowWhy(sheet, takePath)}\n`);
  if (io.isJson) io.out(`${JSON.stringify({ format: "pulgar.practice", version: 1, files: written })}\n`);
  else io.out(`${written.join("\n")}\n\n${PRACTICE_CAUTION.join("\n")}\n`);
  return 0;
}

const noSlowWhy = (sheet: Sheet, takePath: string | undefined): string =>
  takePath === undefined
    ? `the recording${sheet.take?.file ? ` ${sheet.take.file}` : ""} does not lie beside the sheet (say --take FILE)`
    : "the sheet holds no beat times (draft it from the take, or give its .sheet.json)";

function wantedTracks(flags: Flags): Wanted[] {
  const slow = textFlag(flags, "slow");
  const climb = textFlag(flags, "climb");
  const percents = (slow ?? (climb === undefined ? "60,80" : "")).split(",").filter(Boolean);
  const tracks = percents.map((text) => {
    const percent = numberIn(text, "--slow", 25, 200, "percent");
    return { name: `${percent}-percent`, percent };
  });
  if (climb === undefined) return tracks;
  const match = /^(\d+)-(\d+)$/.exec(climb);
  const from = wholeIn(match?.[1] ?? climb, "--climb", 25, 200, "percent");
  const to = wholeIn(match?.[2] ?? climb, "--climb", 25, 200, "percent");
  if (to < from)
    throw new PulgarError("bad-usage", `--climb ${climb}: it must rise`, "For instance: --climb 60-100");
  for (let percent = from, k = 1; percent <= to; percent += CLIMB_STEP, k++)
    tracks.push({ name: `climb-${String(k).padStart(2, "0")}-${percent}-percent`, percent });
  return tracks;
}

function barsOf(flags: Flags, sheet: Sheet): { fromBar: number; toBar: number; loops: number } {
  const bars = textFlag(flags, "bars");
  const part = textFlag(flags, "part");
  const loops = textFlag(flags, "loops");
  const { barCount } = sheet.grid;
  const isLoop = bars !== undefined || part !== undefined;
  const count = loops === undefined ? (isLoop ? 4 : 1) : wholeIn(loops, "--loops", 1, 200, "times");
  if (part !== undefined) return { ...partBars(part, sheet), loops: count };
  if (bars === undefined) return { fromBar: 1, toBar: barCount, loops: count };
  const match = /^(\d+)(?:-(\d+))?$/.exec(bars);
  const fromBar = wholeIn(match?.[1] ?? bars, "--bars", 1, barCount, "");
  return {
    fromBar,
    toBar: wholeIn(match?.[2] ?? match?.[1] ?? bars, "--bars", fromBar, barCount, ""),
    loops: count,
  };
}

/** Bars of the first section with the label. */
function partBars(label: string, sheet: Sheet): { fromBar: number; toBar: number } {
  const part = sheet.form.find((p) => p.label.toLowerCase() === label.toLowerCase());
  const [fromBar, toBar] = [part?.bars[0], part?.bars.at(-1)];
  if (fromBar !== undefined && toBar !== undefined) return { fromBar, toBar };
  const labels = [...new Set(sheet.form.map((p) => p.label))].join(", ");
  throw new PulgarError(
    "bad-usage",
    `--part ${label}: the form has ${labels === "" ? "no sections" : labels}`,
    "Name one of them, or give bars: --bars 3-4.",
  );
}

/** Does one bass note lie under most chords, as in a study over a held bass? */
function hasHeldBass(sheet: Sheet): boolean {
  const named = sheet.chords.filter((c) => c.bass !== "");
  const counts = new Map<string, number>();
  for (const chord of named) counts.set(chord.bass, (counts.get(chord.bass) ?? 0) + 1);
  const most = Math.max(0, ...counts.values());
  const roots = new Set(named.map((c) => c.root));
  return roots.size > 1 && most / Math.max(1, named.length) > 0.8;
}

// Writes the folder samples/: short studies of our own, rendered from recorded guitar notes, and samples/index.json with
// all that is true of them. Run: npx tsx tests/helpers/takes/make-samples.ts [folder]. The WAV files, the tabs and the
// index need nothing but the npm packages; compressed files and the video need an ffmpeg on PATH and are otherwise left as
// they are, and named. The same machine writes the same bytes again.
import { spawnSync } from "node:child_process";
import { existsSync, mkdirSync, statSync, writeFileSync } from "node:fs";
import { join, resolve } from "node:path";
import { musicXmlText } from "../../../src/export/musicxml.js";
import { trueChords } from "../score/take.js";
import { encodeWith, hasFfmpeg } from "./aac.js";
import { differencesOfBar, type Planted, plantErrors } from "./mistakes.js";
import { plainTab } from "./plain-tab.js";
import { studyNamed } from "./studies.js";
import { type RenderedTake, renderTake, type TakeOptions } from "./take.js";
import { toSheet } from "./to-sheet.js";
import { wavBytes } from "./wave.js";

type SampleRow = { file: string; study: string; take: TakeOptions; guitar: string; what: string };

const HUMAN = {
  jitterMs: 8,
  drift: 0.012,
  rubato: 0.04,
  roomT60Sec: 0.35,
  roomWetDb: -7,
  noiseDb: 55,
} as const;

// Small rooms, a player who is good but human; one take is a little off pitch, three have a count-in.
const SAMPLES: readonly SampleRow[] = [
  {
    file: "mixolydian-over-a.wav",
    study: "mixolydian-over-a",
    take: { ...HUMAN, bank: "steel", seed: 11, leadSec: 0.4 },
    guitar: "steel strings",
    what: "eight bars of A mixolydian over a held A, no count-in",
  },
  {
    file: "stones-in-the-brook.m4a",
    study: "stones-in-the-brook",
    take: { ...HUMAN, bank: "nylon", seed: 12, countIn: "taps", leadSec: 0.7 },
    guitar: "nylon strings",
    what: "a p-i-m-a arpeggio in 6/8, counted in by six taps on the wood",
  },
  {
    file: "ladder-and-lamp.ogg",
    study: "ladder-and-lamp",
    take: { ...HUMAN, bank: "steel", seed: 13, countIn: "clicks", leadSec: 0.5, tuningCents: 9 },
    guitar: "steel strings",
    what: "alternating thumb with a capo at the third fret, after four clicks; the guitar is 9 cents sharp",
  },
  {
    file: "low-tide.mp4",
    study: "low-tide",
    take: { ...HUMAN, bank: "nylon", seed: 14, countIn: "voice", leadSec: 1 },
    guitar: "nylon strings",
    what: "D dorian in drop D, a video file; the player counts to four",
  },
  {
    file: "half-open-door.m4a",
    study: "half-open-door",
    take: { ...HUMAN, bank: "steel", seed: 15, leadSec: 0.6 },
    guitar: "steel strings",
    what: "over A minor chords that never say whether it is aeolian or dorian",
  },
];

const ATTRIBUTION =
  "Guitar notes: tonejs-instruments (npm packages tonejs-instrument-guitar-acoustic-wav and -nylon-mp3), CC-BY 3.0, " +
  "https://creativecommons.org/licenses/by/3.0/; cut, level-matched, resampled and mixed for pulgar. Music: composed for pulgar.";

const QUIET = ["-map_metadata", "-1", "-fflags", "+bitexact", "-flags:a", "+bitexact"] as const;

/** File bytes of a take by its ending; undefined when that needs an ffmpeg that is not there. */
function bytesOf(rendered: RenderedTake, fileName: string): Uint8Array | undefined {
  if (fileName.endsWith(".wav")) return wavBytes(rendered.take.samples, rendered.take.sampleRateHz);
  if (!hasFfmpeg()) return undefined;
  const sound = fileName.endsWith(".ogg")
    ? ["-c:a", "libvorbis", "-q:a", "4"]
    : ["-c:a", "aac", "-b:a", "96k"];
  if (!fileName.endsWith(".mp4")) return encodeWith(rendered.take, fileName, [...sound, ...QUIET]);
  const picture = ["-f", "lavfi", "-i", "color=c=0x35524a:s=320x180:r=10"];
  const video = [
    "-map",
    "0:v",
    "-map",
    "1:a",
    "-c:v",
    "libx264",
    "-pix_fmt",
    "yuv420p",
    "-crf",
    "35",
    "-flags:v",
    "+bitexact",
  ];
  return encodeWith(
    rendered.take,
    fileName,
    [...video, ...sound, ...QUIET, "-shortest", "-movflags", "+faststart"],
    picture,
  );
}

const round = (x: number, digits: number): number => Number(x.toFixed(digits));

function entryOf(row: SampleRow, rendered: RenderedTake): object {
  const { study, performance, take } = rendered;
  const sec = (x: number): number => round(x, 4);
  return {
    file: row.file,
    title: study.title,
    what: row.what,
    player: "rendered",
    guitar: row.guitar,
    licence: "CC-BY-3.0",
    attribution: ATTRIBUTION,
    durationSec: sec(take.samples.length / take.sampleRateHz),
    sampleRateHz: take.sampleRateHz,
    tuningCents: rendered.tuningCents,
    tuning: study.tuning,
    openMidi: study.openMidi,
    capo: study.capo,
    tempoBpm: study.tempoBpm,
    meter: study.meter,
    feel: study.feel,
    swingRatio: study.swingRatio,
    countIn: row.take.countIn ?? "none",
    countInBeats: performance.countInBeats,
    firstBeatSec: sec(performance.beatSec[0] as number),
    beatSec: performance.beatSec.map(sec),
    mode: study.mode,
    pattern: study.pattern,
    patternBars: study.patternBars,
    form: study.form,
    groupOfBar: study.groupOfBar,
    chords: trueChords(rendered).map((c, k) => ({
      ...study.chords[k],
      startSec: sec(c.startSec),
      endSec: sec(c.endSec),
    })),
    notes: rendered.notes.map((n) => ({
      bar: n.bar,
      beat: round(1 + n.tick / 24, 4),
      tick: n.tick,
      lengthTicks: n.lengthTicks,
      onsetSec: sec(n.onsetSec),
      offsetSec: sec(n.offsetSec),
      midi: n.midi,
      string: n.string,
      fret: n.fret,
      finger: n.finger,
      leftFinger: n.leftFinger,
      velocity: round(n.velocity, 2),
    })),
  };
}

/** The right tab of the first sample, and one in which a single fret is wrong, as tab and as MusicXML, for `pulgar check`. */
function tabs(): { file: string; text: string; planted: Planted[] }[] {
  const study = studyNamed("mixolydian-over-a");
  const spoiled = plantErrors(study, { seed: 9, kinds: ["wrong-fret"] });
  const bar = spoiled.planted[0]?.bars[0] as number;
  const inBar = (notes: typeof study.notes) => notes.filter((n) => n.bar === bar);
  if (differencesOfBar(inBar(spoiled.study.notes), inBar(study.notes), bar).length !== 1)
    throw new Error("the wrong fret was not planted");
  return [
    { file: "mixolydian-over-a.tab.txt", text: plainTab(study), planted: [] },
    { file: "mixolydian-over-a.wrong-fret.tab.txt", text: plainTab(spoiled.study), planted: spoiled.planted },
    {
      file: "mixolydian-over-a.wrong-fret.musicxml",
      text: musicXmlText(toSheet(spoiled.study)),
      planted: spoiled.planted,
    },
  ];
}

async function main(): Promise<void> {
  const folder = resolve(process.argv[2] ?? "samples");
  mkdirSync(folder, { recursive: true });
  const samples: object[] = [];
  for (const row of SAMPLES) {
    const rendered = await renderTake(studyNamed(row.study), row.take);
    const bytes = bytesOf(rendered, row.file);
    const path = join(folder, row.file);
    if (bytes !== undefined) writeFileSync(path, bytes);
    const state =
      bytes !== undefined ? "written" : existsSync(path) ? "kept (no ffmpeg)" : "MISSING (no ffmpeg)";
    const size = existsSync(path) ? statSync(path).size : 0;
    if (size > 1_000_000) throw new Error(`${row.file}: ${size} bytes; samples stay under 1 MB`);
    console.log(`${row.file}  ${state}  ${size} bytes`);
    samples.push(entryOf(row, rendered));
  }
  const sheets = tabs().map(({ file, text, planted }) => {
    writeFileSync(join(folder, file), text);
    console.log(`${file}  written`);
    return { file, take: "mixolydian-over-a.wav", planted };
  });
  const index = join(folder, "index.json");
  writeFileSync(
    index,
    `${JSON.stringify({ format: "pulgar.samples", version: 1, samples, sheets }, null, 1)}\n`,
  );
  spawnSync(process.execPath, ["node_modules/@biomejs/biome/bin/biome", "format", "--write", index], {
    stdio: "ignore",
  });
  console.log("index.json  written");
}

await main();

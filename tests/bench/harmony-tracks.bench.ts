// Key and mode of composed backing tracks: our answer with essentia's vote and without it, and beside it, on the same tracks, what
// general key finders say: essentia's KeyExtractor, and the profiles of Krumhansl & Kessler and of Temperley, Kostka & Payne over our
// chroma. Constants were tuned on seeds under 64 and 1000…1127; the default seeds 64…127 were never tuned on. `--seeds=64-127,3000-3059`
// makes a table of each range.
import { askEssentia } from "../../cli/essentia.js";
import { mapSemitones } from "../../src/dsp/partials.js";
import { makeChroma, meanChroma } from "../../src/harmony/chroma.js";
import type { ModeName } from "../../src/harmony/harmony.js";
import { type EssentiaVote, keyOfMap, type TrackKey } from "../../src/harmony/track.js";
import { scoreChords } from "../helpers/score/chords.js";
import { pitchClassOf } from "../helpers/takes/grips.js";
import { KRUMHANSL_KESSLER, TEMPERLEY_KOSTKA_PAYNE } from "../helpers/tracks/key-profile-table.js";
import { mirexScore, type PlainKey, plainKey, sameNotes } from "../helpers/tracks/key-score.js";
import type { TrackTruth } from "../helpers/tracks/plan.js";
import { profileKey } from "../helpers/tracks/profile-key.js";
import { type RenderedTrack, renderTrack } from "../helpers/tracks/render.js";
import { type BenchCase, type Cell, mean } from "./bench-case.js";

const OURS = ["pulgar", "pulgar without the vote"] as const;
const OTHERS = ["essentia KeyExtractor", "Krumhansl & Kessler", "Temperley, Kostka & Payne"] as const;

/** 0 or 1 where yes or no; undefined where it is not asked of this track or this finder. */
type Score = {
  right: number;
  sameNotes: number;
  mirex: number;
  openSaid?: number | undefined;
  closedSaidOpen?: number | undefined;
  second?: number | undefined;
  falseSecond?: number | undefined;
  offCents?: number;
  majmin?: number;
  said: string;
};
type TrackScores = { seed: number; truth: string; by: Map<string, Score> };

const bench: BenchCase = {
  name: "harmony-tracks",
  run: async ({ quick, flags, log }) => {
    const given = flags.find((f) => f.startsWith("--seeds="))?.slice(8) ?? (quick ? "64-67" : "64-127");
    const summary: Cell[][] = [];
    const rows: Cell[][] = [];
    for (const range of given.split(",")) {
      const [from = 64, to = 127] = range.split("-").map(Number);
      const tracks: TrackScores[] = [];
      for (let seed = from; seed <= to; seed++) {
        tracks.push(await scoreTrack(renderTrack(seed)));
        log(`${seed} ${tracks.at(-1)?.truth}: ${tracks.at(-1)?.by.get(OURS[0])?.said}`);
      }
      for (const t of tracks)
        rows.push([t.seed, t.truth, ...[...OURS, ...OTHERS].map((name) => t.by.get(name)?.said)]);
      for (const name of [...OURS, ...OTHERS]) summary.push(meansOf(name, range, tracks));
    }
    return {
      title: "Key and mode of composed backing tracks",
      columns: [
        "seeds",
        "finder",
        "right",
        "same notes",
        "MIREX",
        "majmin",
        "within 3 cents",
        "open said",
        "others said open",
        "second key",
        "no second key, said",
      ],
      rows: summary,
      notes: ["", "seed, truth, what each says (in the order above):", ...rows.map((r) => r.join(" | "))],
    };
  },
};
export default bench;

async function scoreTrack({ take, truth, spec }: RenderedTrack): Promise<TrackScores> {
  const durationSec = take.samples.length / take.sampleRateHz;
  const vote = await askEssentia(take.samples, take.sampleRateHz);
  const map = mapSemitones(take.samples, take.sampleRateHz);
  const by = new Map<string, Score>();
  by.set(OURS[0], scoreOurs(keyOfMap(map, durationSec, vote ? { vote } : {}), truth));
  by.set(OURS[1], scoreOurs(keyOfMap(map, durationSec), truth));
  const chroma = meanChroma(makeChroma(map), "all", 0, durationSec);
  by.set(OTHERS[0], scorePlain(vote && voteKey(vote), truth));
  by.set(OTHERS[1], scorePlain(profileKey(chroma, KRUMHANSL_KESSLER), truth));
  by.set(OTHERS[2], scorePlain(profileKey(chroma, TEMPERLEY_KOSTKA_PAYNE), truth));
  return { seed: spec.seed, truth: `${truth.tonic} ${truth.mode}`, by };
}

const voteKey = (vote: EssentiaVote): PlainKey => ({ tonic: vote.key, isMinor: vote.scale === "minor" });
const pairOf = (u: { between: readonly ModeName[] }): string => [...u.between].sort().join("/");

function scoreOurs(found: TrackKey, truth: TrackTruth): Score {
  const isTonic = pitchClassOf(found.tonic) === pitchClassOf(truth.tonic);
  const truePairs = truth.undecided.map(pairOf);
  const pairs = found.undecided.map(pairOf);
  const hasPair = isTonic && truePairs.some((p) => pairs.includes(p));
  const allowed = [truth.mode, ...truth.undecided.flatMap((u) => (hasPair ? u.between : []))];
  const want = truth.sections[1];
  const second = found.sections[1];
  const isSecond =
    want && second && found.sections.length === 2 && pitchClassOf(second.tonic) === pitchClassOf(want.tonic);
  return {
    right: Number(isTonic && allowed.includes(found.mode)),
    sameNotes: Number(allowed.some((mode) => sameNotes({ tonic: truth.tonic, mode }, found))),
    mirex: mirexScore(plainKey(truth.tonic, truth.mode), plainKey(found.tonic, found.mode)),
    openSaid: truePairs.length > 0 ? Number(hasPair) : undefined,
    closedSaidOpen: truePairs.length > 0 ? undefined : Number(pairs.length > 0),
    second: want ? Number(isSecond === true) : undefined,
    falseSecond: want ? undefined : Number(found.sections.length > 1),
    offCents: Math.abs(found.tuningCents - truth.tuningCents),
    majmin: scoreChords(truth.chords, found.chords).majmin,
    said: [
      `${found.tonic} ${found.mode}`,
      ...pairs,
      ...found.sections.slice(1).map((s) => `then ${s.tonic} ${s.mode}`),
    ].join(" "),
  };
}

/** A finder that knows major and minor only: right is ionian or aeolian on the tonic. */
function scorePlain(found: PlainKey | undefined, truth: TrackTruth): Score {
  if (!found) return { right: 0, sameNotes: 0, mirex: 0, said: "none" };
  const mode = found.isMinor ? "aeolian" : "ionian";
  return {
    right: Number(pitchClassOf(found.tonic) === pitchClassOf(truth.tonic) && mode === truth.mode),
    sameNotes: Number(sameNotes({ tonic: found.tonic, mode }, truth)),
    mirex: mirexScore(plainKey(truth.tonic, truth.mode), found),
    said: `${found.tonic} ${found.isMinor ? "minor" : "major"}`,
  };
}

function meansOf(name: string, range: string, tracks: readonly TrackScores[]): Cell[] {
  const scores = tracks.flatMap((t) => t.by.get(name) ?? []);
  const known = (of: (s: Score) => number | undefined): number[] => scores.flatMap((s) => of(s) ?? []);
  const count = (of: (s: Score) => number | undefined): Cell => {
    const list = known(of);
    return list.length === 0 ? undefined : `${list.reduce((sum, x) => sum + x, 0)} of ${list.length}`;
  };
  const majmin = known((s) => s.majmin);
  return [
    range,
    name,
    mean(known((s) => s.right)),
    mean(known((s) => s.sameNotes)),
    mean(known((s) => s.mirex)),
    majmin.length > 0 ? mean(majmin) : undefined,
    count((s) => (s.offCents === undefined ? undefined : Number(s.offCents <= 3))),
    count((s) => s.openSaid),
    count((s) => s.closedSaidOpen),
    count((s) => s.second),
    count((s) => s.falseSecond),
  ];
}

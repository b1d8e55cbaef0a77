/** Take to notes: features, network, evidence, picking.
 *
 * In: a Take of any rate and a network. Out: Listening: notes, candidates, evidence map, tuning. Method: the take is brought to
 * 22050 Hz and its tuning measured; features are made block by block with enough context for the network, and while it works on
 * some blocks the next ones' features are made; logits are kept as bytes, so an hour's evidence is two maps of 16 MB.
 * Source: onset and frame heads after Hawthorne et al. 2018 (ISMIR); the network's own card tells the rest.
 * Cannot: hear pitches outside the card's range, or other instruments as others. */
import type { Take } from "../audio/take.js";
import { PulgarError } from "../base/errors.js";
import type { OnProgress } from "../base/progress.js";
import { resample } from "../dsp/resample.js";
import type { ListenerCard } from "./card.js";
import { FEATURES, FRAME_LEN, makeFeatures } from "./features.js";
import { pickNotes } from "./pick.js";
import { type EvidenceMap, type Listening, LOGIT_STEPS, type RunNet } from "./played-note.js";
import { estimateTuning } from "./tuning.js";

const LISTEN_DEFAULTS = {
  blockFrames: 768, // 9 s: a call of 1024 frames holds 15 MB more in each thread and saves 3 % of its time
  blocksAtOnce: 4, // two at work and two waiting on two cores; 9 MB
  stringFromLogit: -2, // strings are asked for where an onset is at least thinkable
  levelSteps: 200, // steps of the byte that holds log(1 + 2000·m)/6, which stays under 1.27
} as const;

/** @throws PulgarError "bad-model" when the card does not fit these features */
export async function listen(
  take: Take,
  runNet: RunNet,
  options: { card: ListenerCard; onProgress?: OnProgress },
): Promise<Listening> {
  const { card } = options;
  if (
    card.sampleRateHz !== FEATURES.sampleRateHz ||
    card.hopLen !== FEATURES.hopLen ||
    card.frameLen !== FRAME_LEN
  )
    throw new PulgarError(
      "bad-model",
      `card.json: features of ${card.frameLen} at ${card.sampleRateHz} Hz; need ${FRAME_LEN} at ${FEATURES.sampleRateHz} Hz`,
      "Install pulgar again: the listener's files belong together.",
    );
  const samples = resample(take.samples, take.sampleRateHz, FEATURES.sampleRateHz);
  const tuningCents = estimateTuning(samples, FEATURES.sampleRateHz);
  const heard = await hear(samples, tuningCents, runNet, card, options.onProgress ?? (() => undefined));
  const { notes, candidates } = pickNotes(heard.map, card, heard);
  return {
    notes,
    candidates,
    evidence: heard.map,
    tuningCents,
    durationSec: take.samples.length / take.sampleRateHz,
  };
}

type Heard = {
  map: EvidenceMap;
  levelAt: (frame: number, pitchIdx: number) => number;
  stringsAt: (frame: number, pitchIdx: number) => readonly number[] | undefined;
};

async function hear(
  samples: Float32Array,
  tuningCents: number,
  runNet: RunNet,
  card: ListenerCard,
  onProgress: OnProgress,
): Promise<Heard> {
  const features = makeFeatures(samples, tuningCents);
  const { frameCount } = features;
  const { pitchCount, contextFrames } = card;
  const map: EvidenceMap = {
    frameSec: FEATURES.hopLen / FEATURES.sampleRateHz,
    frameCount,
    lowestMidi: card.lowestMidi,
    pitchCount,
    onset: new Int8Array(frameCount * pitchCount),
    sounding: new Int8Array(frameCount * pitchCount),
  };
  const level = new Uint8Array(frameCount * pitchCount);
  const strings = new Map<number, readonly number[]>();
  const working: Promise<void>[] = [];
  for (let start = 0; start < frameCount; start += LISTEN_DEFAULTS.blockFrames) {
    const end = Math.min(frameCount, start + LISTEN_DEFAULTS.blockFrames);
    const from = Math.max(0, start - contextFrames);
    const to = Math.min(frameCount, end + contextFrames);
    const block = new Float32Array((to - from) * FRAME_LEN);
    features.fill(from, to - from, block);
    keepLevels(block, from, start, end, pitchCount, level);
    if (working.length >= LISTEN_DEFAULTS.blocksAtOnce) await working.shift();
    onProgress("listening", start / frameCount);
    const work = runNet(block, to - from).then((out) => {
      for (let f = start; f < end; f++)
        for (let p = 0; p < pitchCount; p++) {
          const at = (f - from) * pitchCount + p;
          const target = f * pitchCount + p;
          map.onset[target] = quantised(out.onset[at]!);
          map.sounding[target] = quantised(out.sounding[at]!);
          if (out.strings && out.onset[at]! > LISTEN_DEFAULTS.stringFromLogit) {
            const shares = softmax(out.strings.subarray(at * 6, at * 6 + 6), card.strings.temperature);
            if (Math.max(...shares) >= card.strings.claim) strings.set(target, shares);
          }
        }
    });
    work.catch(() => undefined); // its failure is met where it is waited for, also when an earlier one has failed before
    working.push(work);
  }
  await Promise.all(working);
  return {
    map,
    levelAt: (frame, pitchIdx) => {
      const byte = frame < frameCount ? level[frame * pitchCount + pitchIdx]! : 0;
      return Math.expm1((6 * byte) / LISTEN_DEFAULTS.levelSteps) / FEATURES.compress;
    },
    stringsAt: (frame, pitchIdx) => strings.get(frame * pitchCount + pitchIdx),
  };
}

const quantised = (logit: number): number => Math.max(-127, Math.min(127, Math.round(logit * LOGIT_STEPS)));

function softmax(logits: Float32Array, temperature: number): number[] {
  const top = Math.max(...logits);
  const weights = Array.from(logits, (x) => Math.exp((x - top) / temperature));
  const sum = weights.reduce((a, b) => a + b, 0);
  return weights.map((w) => w / sum);
}

/** Keeps, for every frame and pitch of the block's core, the stronger of fundamental and octave as a byte. */
function keepLevels(
  block: Float32Array,
  from: number,
  start: number,
  end: number,
  pitchCount: number,
  level: Uint8Array,
): void {
  const octave = FEATURES.bandsPerOctave;
  for (let f = start; f < end; f++)
    for (let p = 0; p < pitchCount; p++) {
      const band = (f - from) * FRAME_LEN + 3 * p + 1; // band of MIDI 36 + p
      const top = Math.max(block[band]!, block[band + octave]!);
      level[f * pitchCount + p] = Math.min(255, Math.round(top * LISTEN_DEFAULTS.levelSteps));
    }
}

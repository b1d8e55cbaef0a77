/** Take to notes: stretches of sound, evidence, picking.
 *
 * In: a Take of any rate and a listener. Out: Listening: notes, candidates, evidence map, tuning. Method: the take is brought to
 * 22050 Hz, its tuning and level are measured; stretches of it go to the listener (`hear.ts`), some at a time, and its answers are laid
 * into the map: logits as bytes, so an hour's evidence is two maps of 16 MB, and beside the sound nothing else grows with the take.
 * Source: onset and frame heads after Hawthorne et al. 2018 (ISMIR); the network's own card tells the rest.
 * Cannot: hear pitches outside the card's range, or other instruments as others. */
import type { Take } from "../audio/take.js";
import { PulgarError } from "../base/errors.js";
import type { OnProgress } from "../base/progress.js";
import { resample } from "../dsp/resample.js";
import type { ListenerCard } from "./card.js";
import { FEATURES, FRAME_LEN, frameCountOf, levelGain } from "./features.js";
import { cutStretch, stretchStarts } from "./hear.js";
import { pickNotes, type Side } from "./pick.js";
import type { EvidenceMap, Listening, RunNet } from "./played-note.js";
import { sideOf, type Thinkable } from "./thinkable.js";
import { estimateTuning } from "./tuning.js";

const STRETCHES_AT_ONCE = 4; // two at work and two waiting on two cores; 12 MB

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
  const { notes, candidates } = pickNotes(heard.map, card, heard.side);
  return {
    notes,
    candidates,
    evidence: heard.map,
    tuningCents,
    durationSec: take.samples.length / take.sampleRateHz,
  };
}

async function hear(
  samples: Float32Array,
  tuningCents: number,
  runNet: RunNet,
  card: ListenerCard,
  onProgress: OnProgress,
): Promise<{ map: EvidenceMap; side: Side }> {
  const frameCount = frameCountOf(samples.length);
  const take = { samples, frameCount, gain: levelGain(samples), tuningCents };
  const { pitchCount } = card;
  const map: EvidenceMap = {
    frameSec: FEATURES.hopLen / FEATURES.sampleRateHz,
    frameCount,
    lowestMidi: card.lowestMidi,
    pitchCount,
    onset: new Int8Array(frameCount * pitchCount),
    sounding: new Int8Array(frameCount * pitchCount),
  };
  const starts = stretchStarts(frameCount);
  const thinkable = new Array<Thinkable>(starts.length - 1);
  const working: Promise<void>[] = [];
  for (const [k, start] of starts.slice(0, -1).entries()) {
    if (working.length >= STRETCHES_AT_ONCE) await working.shift();
    onProgress("listening", start / frameCount);
    const stretch = cutStretch(take, start, starts[k + 1] ?? frameCount, card.contextFrames);
    const work = runNet(stretch).then((heard) => {
      map.onset.set(heard.onset, start * pitchCount);
      map.sounding.set(heard.sounding, start * pitchCount);
      thinkable[k] = heard.thinkable;
    });
    work.catch(() => undefined); // its failure is met where it is waited for, also when an earlier one has failed before
    working.push(work);
  }
  await Promise.all(working);
  return { map, side: sideOf(thinkable, starts[1] ?? frameCount, card) };
}

/** What one stretch of a take says: sound to evidence, wherever the network runs.
 *
 * In: sound cut wide enough for all that its frames are made of, and a network. Out: bytes of the evidence map for the stretch's own frames,
 * and, where an onset is at least thinkable, its attack and what the sound says of its string. Method: features are made block by block into
 * one buffer, the frames that two blocks share made once; the network looks `contextFrames` to each side, so a block's own frames come out
 * as they would from the whole take. Cannot: be cut at odd frames, since the network steps by two. */
import type { ListenerCard } from "./card.js";
import { FEATURES, FRAME_LEN, FRAME_REACH_LEN, makeFeatures, type OpenSound } from "./features.js";
import { type BlockHeard, LOGIT_STEPS, type NetOut, type RunNet, type SoundBlock } from "./played-note.js";
import { type CellList, makeCellList } from "./thinkable.js";

const HEAR_DEFAULTS = {
  blockFrames: 512, // 6 s: a call of 768 frames holds 14 MB more in each thread and saves 2 % of the processor
  mostBlocks: 6, // to a stretch: their common frames are made once, 4 % twice instead of 25; 3 MB of sound
  askFromLogit: -3.1, // strings and loudness are kept from here: picking begins at −3, to a step of the map's bytes
  attackFrames: 5, // just after an onset: its loudness is the largest of these
} as const;

/** Frames where stretches of a take begin, all even, the last entry where the take ends; of a like length, so that two threads end together. */
export function stretchStarts(frameCount: number): number[] {
  const { blockFrames, mostBlocks } = HEAR_DEFAULTS;
  const blockCount = Math.ceil(frameCount / blockFrames);
  const stretchCount = 2 * Math.ceil(blockCount / (2 * mostBlocks));
  const stretchFrames = blockFrames * Math.ceil(blockCount / stretchCount);
  const starts: number[] = [];
  for (let start = 0; start < frameCount; start += stretchFrames) starts.push(start);
  return [...starts, frameCount];
}

/** The sound of frames `start`…`end − 1` with what the network looks at around them; a copy, which may be handed to a thread. */
export function cutStretch(
  take: { samples: Float32Array; frameCount: number; gain: number; tuningCents: number },
  start: number,
  end: number,
  contextFrames: number,
): SoundBlock {
  const fromFrame = Math.max(0, start - contextFrames);
  const toFrame = Math.min(take.frameCount, end + contextFrames);
  const fromIdx = Math.max(0, fromFrame * FEATURES.hopLen - FRAME_REACH_LEN);
  const toIdx = Math.min(take.samples.length, (toFrame - 1) * FEATURES.hopLen + FRAME_REACH_LEN);
  return {
    samples: take.samples.slice(fromIdx, toIdx),
    centreIdx: fromFrame * FEATURES.hopLen - fromIdx,
    frameCount: toFrame - fromFrame,
    ownFrom: start - fromFrame,
    ownCount: end - start,
    gain: take.gain,
    tuningCents: take.tuningCents,
  };
}

/** A network as `RunNet` wants it. @param net logits of features, shape (frames, 528) row-major: asked again only when it has answered */
export function makeEars(
  net: (features: Float32Array, frameCount: number) => Promise<NetOut>,
  card: ListenerCard,
): RunNet {
  const { blockFrames } = HEAR_DEFAULTS;
  const { pitchCount, contextFrames } = card;
  const buffer = new Float32Array((blockFrames + 2 * contextFrames) * FRAME_LEN);
  let openSound: OpenSound | undefined;
  let openFor = "";
  let queue: Promise<unknown> = Promise.resolve();

  async function hear(sound: SoundBlock): Promise<BlockHeard> {
    const { samples, centreIdx, frameCount, ownFrom, ownCount, gain, tuningCents } = sound;
    if (!openSound || openFor !== `${gain} ${tuningCents}`) {
      openSound = makeFeatures(tuningCents, gain);
      openFor = `${gain} ${tuningCents}`;
    }
    const fill = openSound(samples);
    const heard = {
      onset: new Int8Array(ownCount * pitchCount),
      sounding: new Int8Array(ownCount * pitchCount),
    };
    const cells = makeCellList();
    let madeTo = 0; // frames of the stretch that are in the buffer, up to here
    let bufferFrom = 0;
    for (let own = 0; own < ownCount; own += blockFrames) {
      const first = ownFrom + own;
      const end = Math.min(ownFrom + ownCount, first + blockFrames);
      const from = Math.max(0, first - contextFrames);
      const to = Math.min(frameCount, end + contextFrames);
      buffer.copyWithin(0, (from - bufferFrom) * FRAME_LEN, (madeTo - bufferFrom) * FRAME_LEN);
      bufferFrom = from;
      const make = Math.max(from, madeTo);
      fill(centreIdx + make * FEATURES.hopLen, to - make, buffer.subarray((make - from) * FRAME_LEN));
      madeTo = to;
      const block = buffer.subarray(0, (to - from) * FRAME_LEN);
      const out = await net(block, to - from);
      keep(heard, cells, out, block, { skip: first - from, count: end - first, own });
    }
    return { ...heard, thinkable: cells.whole() };
  }

  /** Moves what the network said of a block's own frames into the stretch's evidence. */
  function keep(
    heard: Omit<BlockHeard, "thinkable">,
    cells: CellList,
    out: NetOut,
    block: Float32Array,
    at: { skip: number; count: number; own: number },
  ): void {
    const from = at.skip * pitchCount;
    const target = at.own * pitchCount;
    const lastFrame = block.length / FRAME_LEN - 1;
    for (let k = 0; k < at.count * pitchCount; k++) {
      const onset = out.onset[from + k]!;
      heard.onset[target + k] = quantised(onset);
      heard.sounding[target + k] = quantised(out.sounding[from + k]!);
      if (onset <= HEAR_DEFAULTS.askFromLogit) continue;
      const frame = at.skip + Math.floor(k / pitchCount);
      const attack = attackOf(block, frame, lastFrame, k % pitchCount);
      cells.add(target + k, attack, out.strings?.subarray((from + k) * 6, (from + k) * 6 + 6));
    }
  }

  // One stretch at a time: there is one buffer, and one network.
  return (sound) => {
    const work = queue.then(() => hear(sound));
    queue = work.catch(() => undefined);
    return work;
  };
}

const quantised = (logit: number): number => Math.max(-127, Math.min(127, Math.round(logit * LOGIT_STEPS)));

/** The strongest feature just after an onset, of fundamental and octave; 0 at the end of the take. */
function attackOf(block: Float32Array, frame: number, lastFrame: number, pitchIdx: number): number {
  let top = 0;
  for (let f = frame + 1; f <= Math.min(lastFrame, frame + HEAR_DEFAULTS.attackFrames); f++) {
    const band = f * FRAME_LEN + 3 * pitchIdx + 1; // band of MIDI 36 + pitchIdx
    top = Math.max(top, block[band]!, block[band + FEATURES.bandsPerOctave]!);
  }
  return top;
}

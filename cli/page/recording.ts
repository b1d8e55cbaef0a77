/** The recording behind the sheet: decoded and listened to in the background, while the page is open already. */
import { basename } from "node:path";
import type { Take } from "../../src/audio/take.js";
import { PulgarError } from "../../src/base/errors.js";
import type { Listening } from "../../src/notes/played-note.js";
import { makePicture, wavePeaks, wavOf } from "./picture.js";
import type { HeardNote, PageTake } from "./view-types.js";

/** What the page needs of the rest of the program for sound; a part that is missing says why. */
export type SoundDeps = {
  openTake: (path: string) => Promise<{ take: Take }>;
  /** Rejects with a PulgarError where there is no listener. */
  listen: (take: Take, onShare: (share: number) => void) => Promise<Listening>;
};

export type Recording = {
  path: string | undefined;
  state: () => PageTake;
  durationSec: () => number;
  listening: () => Listening | undefined;
  heard: () => HeardNote[];
  peaks: () => Uint8Array | undefined;
  tile: (tileIdx: number) => Uint8Array | undefined;
  wav: () => Uint8Array | undefined;
  /** Resolves when decoding and listening are over, however they went. */
  done: Promise<void>;
};

const VIDEO_ENDINGS = /\.(mp4|m4v|mov|mkv|webm|ogv|avi)$/i;
const TILES_KEPT = 400; // over an hour of tiles of 10 s and 53 kB

/** Starts on the recording. @param onChange told whenever `state()` has changed; `isHeard` when there are notes to show */
export function openRecording(
  path: string | undefined,
  whyNone: string,
  deps: SoundDeps,
  onChange: (isHeard: boolean) => void,
): Recording {
  let state: PageTake = path === undefined ? { kind: "none", why: whyNone } : { kind: "opening" };
  let take: Take | undefined;
  let listening: Listening | undefined;
  let peaks: Uint8Array | undefined;
  let wav: Uint8Array | undefined;
  let draw: ((tileIdx: number) => Uint8Array) | undefined;
  const tiles = new Map<number, Uint8Array>();

  async function work(file: string): Promise<void> {
    try {
      take = (await deps.openTake(file)).take;
    } catch (e) {
      state = { kind: "none", why: wordsOf(e) };
      onChange(false);
      return;
    }
    peaks = wavePeaks(take.samples, take.sampleRateHz);
    draw = makePicture(take.samples, take.sampleRateHz);
    const ready = {
      kind: "ready",
      fileName: basename(file),
      isVideo: VIDEO_ENDINGS.test(file),
      durationSec: take.samples.length / take.sampleRateHz,
    } as const;
    state = { ...ready, listening: { kind: "working", share: 0 } };
    onChange(false);
    let lastShare = 0;
    try {
      listening = await deps.listen(take, (share) => {
        if (share - lastShare < 0.02) return;
        lastShare = share;
        state = { ...ready, listening: { kind: "working", share } };
        onChange(false);
      });
      state = { ...ready, listening: { kind: "done" } };
      onChange(true);
    } catch (e) {
      state = { ...ready, listening: { kind: "none", why: wordsOf(e) } };
      onChange(false);
    }
  }

  return {
    path,
    state: () => state,
    durationSec: () => (state.kind === "ready" ? state.durationSec : 0),
    listening: () => listening,
    heard: () => (listening ? heardNotes(listening) : []),
    peaks: () => peaks,
    tile(tileIdx) {
      if (!draw) return undefined;
      const known = tiles.get(tileIdx);
      if (known) return known;
      const tile = draw(tileIdx);
      if (tiles.size >= TILES_KEPT) tiles.delete(tiles.keys().next().value ?? 0);
      tiles.set(tileIdx, tile);
      return tile;
    },
    wav() {
      if (take) wav ??= wavOf(take.samples, take.sampleRateHz);
      return wav;
    },
    done: path === undefined ? Promise.resolve() : work(path),
  };
}

/** An error in the user's words; a bug of ours keeps its own. */
export const wordsOf = (e: unknown): string =>
  e instanceof PulgarError ? `${e.message}. ${e.hint}` : e instanceof Error ? e.message : String(e);

function heardNotes(listening: Listening): HeardNote[] {
  const pick = (isDoubtful: boolean) => (n: Listening["notes"][number]) => ({
    onsetSec: Math.round(n.onsetSec * 1e3) / 1e3,
    offsetSec: Math.round(n.offsetSec * 1e3) / 1e3,
    midi: n.midi,
    confidence: Math.round(n.confidence * 1e3) / 1e3,
    isDoubtful,
  });
  return [...listening.notes.map(pick(false)), ...listening.candidates.map(pick(true))].sort(
    (a, b) => a.onsetSec - b.onsetSec || a.midi - b.midi,
  );
}

/** The recording behind the sheet: decoded and listened to in the background, while the page is open already. */
import { basename } from "node:path";
import type { Take } from "../../src/audio/take.js";
import { PulgarError } from "../../src/base/errors.js";
import type { Listening } from "../../src/notes/played-note.js";
import type { OpenSound } from "./sound.js";
import type { HeardNote, PageTake } from "./view-types.js";

/** What the page needs of the rest of the program for sound; a part that is missing says why. */
export type SoundDeps = {
  open: (path: string) => Promise<OpenSound>;
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
  tile: (tileIdx: number) => Promise<Uint8Array | undefined>;
  wav: () => Promise<Uint8Array | undefined>;
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
  let sound: OpenSound | undefined;
  let listening: Listening | undefined;
  let wav: Promise<Uint8Array> | undefined;
  const tiles = new Map<number, Promise<Uint8Array>>();

  async function work(file: string): Promise<void> {
    try {
      sound = await deps.open(file);
    } catch (e) {
      state = { kind: "none", why: wordsOf(e) };
      onChange(false);
      return;
    }
    const { take } = sound;
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
    peaks: () => sound?.peaks,
    async tile(tileIdx) {
      const known = tiles.get(tileIdx);
      if (known || !sound) return known;
      const tile = sound.tile(tileIdx);
      if (tiles.size >= TILES_KEPT) tiles.delete(tiles.keys().next().value ?? 0);
      tiles.set(tileIdx, tile);
      return tile;
    },
    async wav() {
      wav ??= sound?.wav();
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

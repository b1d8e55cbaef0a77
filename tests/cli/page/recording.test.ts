import { mkdtemp, writeFile } from "node:fs/promises";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { expect, test } from "vitest";
import { makePicture, wavePeaks, wavOf } from "../../../cli/page/picture.js";
import { openRecording, type SoundDeps } from "../../../cli/page/recording.js";
import { openSound, soundThread } from "../../../cli/page/sound.js";
import type { PageTake } from "../../../cli/page/view-types.js";
import { PulgarError } from "../../../src/base/errors.js";
import type { Listening } from "../../../src/notes/played-note.js";
import { wavBytes } from "../../helpers/takes/wave.js";
import { drop } from "./review-fixture.js";
import { decodeWavForTest } from "./wav-door.js";

const RATE = 22050;
const samples = Float32Array.from({ length: 3 * RATE }, (_, k) => 0.5 * Math.sin(k / 9));
const note = { onsetSec: 1, offsetSec: 2, midi: 60, confidence: 0.9, velocity: 0.5 };
const heard = { notes: [note], candidates: [{ ...note, onsetSec: 0.5, confidence: 0.2 }] } as Listening;
const sound = async () => ({
  take: { samples, sampleRateHz: RATE },
  peaks: wavePeaks(samples, RATE),
  tile: async (k: number) => makePicture(samples, RATE)(k),
  wav: async () => wavOf(samples, RATE),
});

function watched(path: string | undefined, deps: Partial<SoundDeps>) {
  const states: PageTake[] = [];
  const recording = openRecording(
    path,
    "None named.",
    { open: sound, listen: async () => heard, ...deps },
    () => states.push(recording.state()),
  );
  return { recording, states };
}

test("review recording: none, and why", async () => {
  const { recording } = watched(undefined, {});
  await recording.done;
  expect(recording.state()).toEqual({ kind: "none", why: "None named." });
  expect([recording.peaks(), await recording.tile(0), await recording.wav(), recording.heard()]).toEqual([
    undefined,
    undefined,
    undefined,
    [],
  ]);
});

test("review recording: opens, listens with its share told, and ends with what was heard, doubtful notes among it", async () => {
  const { recording, states } = watched("take.mp4", {
    listen: async (_take, onShare) => {
      for (const share of [0.3, 0.301, 0.6]) onShare(share);
      return heard;
    },
  });
  expect(recording.state()).toEqual({ kind: "opening" });
  await recording.done;
  const told = states.map((s) => (s.kind === "ready" ? s.listening : s));
  expect(told).toEqual([
    { kind: "working", share: 0 },
    { kind: "working", share: 0.3 },
    { kind: "working", share: 0.6 },
    { kind: "done" },
  ]);
  expect(recording.state()).toMatchObject({ fileName: "take.mp4", isVideo: true, durationSec: 3 });
  expect(recording.heard().map((n) => [n.onsetSec, n.isDoubtful])).toEqual([
    [0.5, true],
    [1, false],
  ]);
  expect(recording.peaks()).toHaveLength(300);
});

test("review recording: what cannot be opened or listened to says why, and the page goes on without", async () => {
  const trouble = new PulgarError("not-audio", "take.wav: this is text", "Give the recording.");
  const unopened = watched("take.wav", { open: () => Promise.reject(trouble) });
  await unopened.recording.done;
  expect(unopened.recording.state()).toEqual({
    kind: "none",
    why: "take.wav: this is text. Give the recording.",
  });
  const unheard = watched("take.wav", { listen: () => Promise.reject(trouble) });
  await unheard.recording.done;
  expect(unheard.recording.state()).toMatchObject({
    kind: "ready",
    listening: { kind: "none", why: "take.wav: this is text. Give the recording." },
  });
  expect(await unheard.recording.tile(0)).toBeDefined();
});

test("review sound: in a thread it is what it is in this one; what is no recording keeps its code", async () => {
  const dir = await mkdtemp(join(tmpdir(), "pulgar-sound-"));
  const thread = soundThread();
  try {
    await writeFile(join(dir, "take.wav"), wavBytes(samples, RATE));
    await writeFile(join(dir, "text.wav"), "no sound at all, only words");
    const [here, there] = [await openSound(join(dir, "take.wav")), await thread.open(join(dir, "take.wav"))];
    expect(there.take.sampleRateHz).toBe(here.take.sampleRateHz);
    expect(there.take.samples).toHaveLength(here.take.samples.length);
    expect(Buffer.from(there.peaks).equals(here.peaks)).toBe(true);
    for (const k of [0, 1]) expect(Buffer.from(await there.tile(k)).equals(await here.tile(k))).toBe(true);
    const back = await decodeWavForTest(await there.wav());
    expect(back.samples).toHaveLength(samples.length);
    await expect(thread.open(join(dir, "text.wav"))).rejects.toSatisfy(
      (e) => e instanceof PulgarError && e.code === "not-audio" && e.hint !== "",
    );
    // a thread that has ended leaves no question waiting
    const asked = there.tile(0).then(
      () => "answered",
      (e: Error) => e.message,
    );
    thread.end();
    expect(["answered", "the thread has ended"]).toContain(await asked);
    await expect(there.tile(1)).rejects.toThrow(/ended|no recording is open/);
  } finally {
    thread.end();
    await drop(dir);
  }
});

/** Plucked strings in the page: one buffer a pitch, made when first needed, stopped where the written note ends. */
import { addPluck } from "../../../src/play/pluck.js";
import { ringSec } from "../../../src/play/strings.js";
import type { PageNote } from "../view-types.js";

export type Plucks = {
  /** @param inSec from now, on the wall clock @param holdSec how long it is held */
  pluck: (note: PageNote, inSec: number, holdSec: number) => void;
  silence: () => void;
  setPan: (pan: number) => void;
};

const LONGEST_SEC = 5;
const STOP_SEC = 0.05;

export function makePlucks(context: AudioContext): Plucks {
  const out = context.createStereoPanner();
  const level = context.createGain();
  level.gain.value = 0.8;
  level.connect(out).connect(context.destination);
  const sounds = new Map<string, AudioBuffer>();
  const going = new Set<{ source: AudioBufferSourceNode; gain: GainNode }>();
  const line = new Float32Array(Math.ceil(context.sampleRate / 20));

  function soundOf(note: PageNote): AudioBuffer {
    const isDead = note.marks.includes("dead");
    const key = `${note.midi} ${note.finger === "p"} ${isDead}`;
    const known = sounds.get(key);
    if (known) return known;
    const samples = new Float32Array(Math.ceil(context.sampleRate * LONGEST_SEC));
    addPluck(
      samples,
      context.sampleRate,
      {
        freqHz: 440 * 2 ** ((note.midi - 69) / 12),
        startIdx: 0,
        holdSec: LONGEST_SEC,
        loudness: 0.7,
        brightness: 0.6,
        pluckShare: note.finger === "p" ? 0.21 : 0.16,
        t60Sec: isDead ? 0.05 : ringSec(note.midi),
        seed: note.midi,
      },
      line,
    );
    const buffer = context.createBuffer(1, samples.length, context.sampleRate);
    buffer.copyToChannel(samples, 0);
    sounds.set(key, buffer);
    return buffer;
  }

  return {
    pluck(note, inSec, holdSec) {
      const at = context.currentTime + Math.max(0, inSec);
      const source = context.createBufferSource();
      source.buffer = soundOf(note);
      const gain = context.createGain();
      gain.gain.setValueAtTime(1, at);
      gain.gain.setTargetAtTime(0, at + Math.max(0.05, holdSec), STOP_SEC);
      source.connect(gain).connect(level);
      source.start(at);
      source.stop(at + Math.max(0.05, holdSec) + 8 * STOP_SEC);
      const voice = { source, gain };
      going.add(voice);
      source.addEventListener("ended", () => going.delete(voice));
    },
    silence() {
      for (const { source, gain } of going) {
        gain.gain.cancelScheduledValues(context.currentTime);
        gain.gain.setTargetAtTime(0, context.currentTime, 0.01);
        source.stop(context.currentTime + 0.08);
      }
      going.clear();
    },
    setPan(pan) {
      out.pan.value = pan;
    },
  };
}

import type { PlayedNote } from "../notes/played-note.js";

/** What is plucked together: a single note, a pinch, a rolled chord or a grace note with its main note.
 * @property sec when it stands on the beat: the mean of a pinch, the first note of a roll
 * @property noteIdxs into the list of notes it was gathered from @property graceIdxs those of them that lean on a later one
 * @property weight 0…1.5, how much it says of the beat: its surest note, a little more when several sound */
export type HitEvent = {
  sec: number;
  lastSec: number;
  noteIdxs: number[];
  graceIdxs: number[];
  lowMidi: number;
  weight: number;
};

const EVENT_DEFAULTS = Object.freeze({
  chainSec: 0.045, // a roll's notes follow within 30 ms, and jitter adds some; sixteenths at 150 are 100 ms apart
  spanSec: 0.17, // six strings struck or rolled
  pinchSec: 0.028, // a pinch's own spread: within it the mean is the best guess
  graceSec: 0.07, // a grace note is slurred to its main note faster than any written step
  graceSemitones: 2,
});

/** Gathers notes into events. One pitch comes once in an event.
 * @param notes any order @param closestSec the closest two written steps can be; chains never reach beyond half of it
 * @returns events by time */
export function gatherEvents(notes: readonly PlayedNote[], closestSec = 0.1): HitEvent[] {
  const order = notes.map((_, idx) => idx);
  const at = (idx: number): PlayedNote => notes[idx] as PlayedNote;
  order.sort((a, b) => at(a).onsetSec - at(b).onsetSec || at(a).midi - at(b).midi || a - b);
  const chainSec = Math.min(EVENT_DEFAULTS.chainSec, Math.max(0.03, closestSec / 2));
  const events: HitEvent[] = [];
  let group: number[] = [];
  for (const idx of order) {
    const note = at(idx);
    const last = group.at(-1);
    const first = group[0];
    if (last === undefined || first === undefined) {
      group = [idx];
      continue;
    }
    const gapSec = note.onsetSec - at(last).onsetSec;
    const near = Math.abs(note.midi - at(last).midi) <= EVENT_DEFAULTS.graceSemitones;
    const reachSec =
      near && group.length === 1 ? Math.min(EVENT_DEFAULTS.graceSec, closestSec / 2) : chainSec;
    const joins =
      gapSec <= Math.max(reachSec, chainSec) &&
      note.onsetSec - at(first).onsetSec <= EVENT_DEFAULTS.spanSec &&
      !group.some((k) => at(k).midi === note.midi);
    if (joins) group.push(idx);
    else {
      events.push(eventOf(notes, group));
      group = [idx];
    }
  }
  if (group.length > 0) events.push(eventOf(notes, group));
  return events;
}

function eventOf(notes: readonly PlayedNote[], noteIdxs: number[]): HitEvent {
  const members = noteIdxs.map((idx) => notes[idx] as PlayedNote);
  const firstSec = Math.min(...members.map((n) => n.onsetSec));
  const lastSec = Math.max(...members.map((n) => n.onsetSec));
  let sec = firstSec;
  if (lastSec - firstSec <= EVENT_DEFAULTS.pinchSec) {
    const mass = members.reduce((sum, n) => sum + n.confidence + 0.01, 0);
    sec = members.reduce((sum, n) => sum + n.onsetSec * (n.confidence + 0.01), 0) / mass;
  }
  // A grace note leans on a note a step away that follows too late for a pinch.
  const graceIdxs = noteIdxs.filter((idx) => {
    const n = notes[idx] as PlayedNote;
    return members.some((m) => {
      const laterSec = m.onsetSec - n.onsetSec;
      const apart = Math.abs(m.midi - n.midi);
      return (
        laterSec > EVENT_DEFAULTS.pinchSec / 2 &&
        laterSec <= EVENT_DEFAULTS.graceSec &&
        apart > 0 &&
        apart <= EVENT_DEFAULTS.graceSemitones
      );
    });
  });
  const surest = Math.max(...members.map((n) => n.confidence));
  return {
    sec,
    lastSec,
    noteIdxs,
    graceIdxs,
    lowMidi: Math.min(...members.map((n) => n.midi)),
    weight: surest * Math.min(1.5, 1 + 0.15 * (members.length - 1)),
  };
}

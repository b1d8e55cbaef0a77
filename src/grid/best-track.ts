// The beat's track in the feel that fits best: straight, or swung lightly or fully.
// In: events, the expected length of a beat, the feels to be tried, where the first beat is expected. Out: a Track.
import { type BeatModel, beatModel, hopSecOf, type StepShares, stepDensity } from "./beat-model.js";
import type { HitEvent } from "./events.js";
import { bassLine, type StartGuess, type Track, trackBeats } from "./track.js";

const FEEL_DEFAULTS = Object.freeze({
  swungPrice: 0.05, // log likelihood an event
  longEvents: 240, // from here on one pause weighs too little to turn the feel
  fits: 1, // log likelihood an event from which straight beats are believed to be where they are
  farWorse: 0.6, // the same: no feel made up for so much in 480 long takes (seeds 7800 to 7919)
});

/** A feel that the take may be in. @property handicap log likelihood an event by which it must be better @property beat made when it is tracked */
type FeelModel = { steps: StepShares; handicap: number; beat?: BeatModel };

/** The feels to be tried; a swung one must earn its place. */
export function feelModels(unit: number, feel: "straight" | "swing" | undefined): FeelModel[] {
  const { swungPrice } = FEEL_DEFAULTS;
  const straight: FeelModel[] = feel === "swing" ? [] : [{ steps: "straight", handicap: 0 }];
  if (feel === "straight" || (feel === undefined && unit >= 8)) return straight;
  return [...straight, { steps: "light", handicap: swungPrice }, { steps: "full", handicap: swungPrice }];
}

/** The track of the feel that fits best. In a long take a swung one that would fit far worse along the straight one's beats is not tracked. */
export function bestTrack(
  events: readonly HitEvent[],
  periodSec: number,
  models: readonly FeelModel[],
  starts: readonly StartGuess[],
): Track {
  let best: Track | undefined;
  let straight: Track | undefined;
  for (const model of models) {
    const { steps, handicap } = model;
    if (
      straight !== undefined &&
      events.length >= FEEL_DEFAULTS.longEvents &&
      straight.fit > FEEL_DEFAULTS.fits
    ) {
      const { beatSec } = straight;
      const along = (of: StepShares): number => fitAlong(beatSec, events, hopSecOf(periodSec), of);
      if (along(steps) - handicap < along("straight") - FEEL_DEFAULTS.farWorse) continue;
    }
    model.beat ??= beatModel(periodSec, steps);
    const track = trackBeats(events, model.beat, { starts, startSlackSec: 0.025 });
    if (steps === "straight") straight = track;
    const fit = track.fit - handicap;
    if (best === undefined || fit > best.fit) best = { ...track, fit };
  }
  return best as Track;
}

/** Mean log likelihood of the events along beats that are known already. */
function fitAlong(
  beatSec: readonly number[],
  events: readonly HitEvent[],
  hopSec: number,
  steps: StepShares,
): number {
  const bassBelow = bassLine(events);
  let sum = 0;
  let mass = 0;
  let k = 0;
  for (const e of events) {
    while (k + 2 < beatSec.length && e.sec >= (beatSec[k + 1] as number)) k++;
    const fromSec = beatSec[k] as number;
    const length = ((beatSec[k + 1] ?? 0) - fromSec) / hopSec;
    const density = stepDensity((e.sec - fromSec) / hopSec, length, hopSec, steps, e.lowMidi <= bassBelow);
    sum += e.weight * Math.log(density);
    mass += e.weight;
  }
  return mass > 0 ? sum / mass : 0;
}

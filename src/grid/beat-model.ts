// What a beat is like: how long it may be, what another length costs, and where within it events stand.
// In: the expected length of a beat and the feel. Out: lengths in frames, prices in nats, tables of log densities by place in the beat.
// The tracker (track.ts) asks for every length at once, so its tables hold all lengths of one place side by side.
export const BEAT_DEFAULTS = Object.freeze({
  hopSec: 0.012, // as fine as a player's jitter; the curve is sharpened afterwards
  framesABeat: 48, // at least
  reach: 0.16, // beat lengths followed: ± this share of the nominal one
  sigmaSec: 0.016, // spread of played events about their step
  unseen: 10, // deviations from a step beyond which a double cannot tell its density from none
  changeShare: 0.014, // usual change of the beat length from one beat to the next
  changeMost: 0.09, // and the largest that is looked for
  nominalShare: 0.06, // how far a player strays from the tempo given
  stray: 0.03, // share of events that stand on no step
  bassOn: 1.2, // basses stand on beats that much more often than other events, the thumb being what keeps the beat: common practice,
  bassOff: 0.5, // no published source
  drawnLeast: 1.2, // a drawn-out beat, times its usual length
  drawnMost: 1.8,
  drawnHop: 2, // frames from one length tried to the next
});

/** Steps within a beat, as shares of it, and how often events stand there: played straight, with a light swing, with a full one. */
const STEP_SHARES = Object.freeze({
  straight: [
    [0, 0.3],
    [1, 0.3],
    [1 / 2, 0.27], // nearly as often: music off the beat must not pull the beat over
    [2 / 3, 0.07],
    [1 / 3, 0.07],
    [1 / 4, 0.07],
    [3 / 4, 0.07],
  ],
  light: [
    [0, 0.38],
    [1, 0.38],
    [0.58, 0.12],
    [0.62, 0.14],
  ],
  full: [
    [0, 0.38],
    [1, 0.38],
    [0.65, 0.14],
    [0.69, 0.14],
    [1 / 3, 0.04],
  ],
} as const satisfies Record<string, readonly (readonly [number, number])[]>);

export type StepShares = keyof typeof STEP_SHARES;

/** Log densities (1/s) of upper voices and of basses by place in a beat, in quarter frames from `margin` frames before it:
 * `upper[place · lengths + j]` for beats of `shortest + j` frames. */
type Densities = { upper: Float64Array; bass: Float64Array };

/** @property nominal expected length in frames @property shortest of `lengths` whole lengths @property margin frames before a beat that are its own
 * @property change lengths that a beat may differ from the one before, at `price[difference]`
 * @property stray price of each length for being another than the expected one @property drawn lengths of a drawn-out beat, rising */
export type BeatModel = {
  hopSec: number;
  nominal: number;
  shortest: number;
  lengths: number;
  margin: number;
  change: number;
  price: Float64Array;
  stray: Float64Array;
  densities: Densities;
  drawn: { length: number; densities: Densities }[];
};

/** Frames as long as this for a beat of `periodSec`. */
export const hopSecOf = (periodSec: number): number =>
  Math.min(BEAT_DEFAULTS.hopSec, periodSec / BEAT_DEFAULTS.framesABeat);

/** The model of a beat of `periodSec`. */
export function beatModel(periodSec: number, steps: StepShares): BeatModel {
  const { reach, changeShare, changeMost, nominalShare, drawnLeast, drawnMost, drawnHop } = BEAT_DEFAULTS;
  const hopSec = hopSecOf(periodSec);
  const nominal = periodSec / hopSec;
  const shortest = Math.max(4, Math.round(nominal * (1 - reach)));
  const longest = Math.max(shortest + 1, Math.round(nominal * (1 + reach)));
  const lengths = longest - shortest + 1;
  const margin = Math.max(1, Math.round(nominal * 0.1));
  const change = Math.max(2, Math.ceil(changeMost * nominal));
  const price = Float64Array.from({ length: change + 1 }, (_, d) => {
    const x = d / nominal / changeShare;
    return 2 * Math.log1p((x * x) / 4); // a heavy tail: the end of a slowed bar is a step back to tempo
  });
  const stray = Float64Array.from({ length: lengths }, (_, j) => {
    const x = (shortest + j - nominal) / nominal / nominalShare;
    return 0.5 * x * x;
  });
  const densities = densitiesOf(shortest, lengths, margin, hopSec, steps);
  const drawn: BeatModel["drawn"] = [];
  for (let length = Math.ceil(drawnLeast * nominal); length <= drawnMost * nominal; length += drawnHop)
    drawn.push({ length, densities: densitiesOf(length, 1, margin, hopSec, steps) });
  return { hopSec, nominal, shortest, lengths, margin, change, price, stray, densities, drawn };
}

/** Density (1/s) of an event by its distance from a beat and the beat's length, both in frames. */
export function stepDensity(
  distance: number,
  length: number,
  hopSec: number,
  steps: StepShares,
  isBass: boolean,
): number {
  const { sigmaSec, stray, unseen, bassOn, bassOff } = BEAT_DEFAULTS;
  const sigma = sigmaSec / hopSec;
  let density = stray / (length * hopSec);
  for (const [share, part] of STEP_SHARES[steps]) {
    const x = (distance - share * length) / sigma;
    if (x > unseen || x < -unseen) continue;
    const kept = !isBass ? part : part * (share === 0 || share === 1 ? bassOn : bassOff);
    density += kept * (1 / (Math.sqrt(2 * Math.PI) * sigmaSec)) * Math.exp(-0.5 * x * x);
  }
  return density;
}

function densitiesOf(
  shortest: number,
  lengths: number,
  margin: number,
  hopSec: number,
  steps: StepShares,
): Densities {
  const places = (shortest + lengths - 1 + margin) * 4 + 8;
  const upper = new Float64Array(places * lengths);
  const bass = new Float64Array(places * lengths);
  for (let place = 0; place < places; place++)
    for (let j = 0; j < lengths; j++) {
      const at = place / 4 - margin;
      upper[place * lengths + j] = Math.log(stepDensity(at, shortest + j, hopSec, steps, false));
      bass[place * lengths + j] = Math.log(stepDensity(at, shortest + j, hopSec, steps, true));
    }
  return { upper, bass };
}

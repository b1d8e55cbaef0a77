/** Calibration by hand: confidence is the sigmoid of the peak's logit, whatever stands around it. */
export const PEAK_ALONE = {
  one: 0,
  onset: 1,
  octaveBelow: 0,
  octaveAbove: 0,
  octaveRings: 0,
  lowerBegins: 0,
  loudness: 0,
  ringing: 0,
  ringingOnset: 0,
  stays: 0,
  lingers: 0,
};

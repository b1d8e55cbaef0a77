// Weights of what speaks for a reading of a chord and for a way to cut a bar, in log odds. Origin: composed studies, none of which is a
// named one: half of the way from a logistic regression on true chords in their true borders (seeds 100…179) to a semi-Markov model of
// whole bars (seeds 100…199 and 400…449; tests/bench/chord-fit fits it again). The whole way leaves sevenths and bare fifths unnamed,
// which those studies have few of; unknownThird, thin and unstruck are set by hand for the same cause. Shares are 0…1 of all that is
// struck over the bass; "melodic" is how much the take's highest voice moves by step; "heard" saturates at a small share.
/** @property out… share of what the chord leaves over, by voice; …Count the same by how many pitch classes @property lack… a note of the
 * chord that nobody plays @property top… a note that only the highest voice plays @property bass… a note that only the bass plays
 * @property unknownThird a third that sounds nowhere in the take @property inv… a third, fifth or other note of the chord in the bass
 * @property foreign… a bass that is no chord note @property used… how much of the take is surely this chord, its triad, it over this bass
 * @property plain the table's cost of the name, negative @property is… a kind of chord @property degree… the root's degree in the key
 * @property low… bass choices: begins the piece, share of the low voice, held from before, octaves over the lowest note */
export const CHORD_WEIGHTS = {
  outInner: -3.85,
  outInnerCount: -2.72,
  outLow: -3.09,
  outTop: -3.5,
  outTopCount: -2.89,
  outTopMelodic: -0.73,
  outTopCountMelodic: 1.89,
  outBassNote: -0.94,
  outBassNoteCount: -3.44,
  lackRoot: -2.01,
  lackThird: -0.59,
  lackFifth: -0.77,
  lackOptionalFifth: -0.15,
  lackSeventh: -2.06,
  lackOther: -1.68,
  topRoot: -0.24,
  topSeventh: -0.13,
  topOther: -0.36,
  topThirdMelodic: 1.34,
  topFifthMelodic: 1.14,
  topSeventhMelodic: -1.47,
  topOtherMelodic: -0.92,
  bassThird: -0.75,
  bassFifth: -0.1,
  bassOther: -0.72,
  unknownThird: -2.6,
  invThird: -2.86,
  invFifth: -3.56,
  invOther: -3.87,
  invPedal: 1.82,
  foreign: -5.37,
  foreignUsed: 1.54,
  foreignPedal: 2.01,
  usedExact: 0.83,
  usedTriad: 0.73,
  usedOverBass: 3.21,
  plain: 5.63,
  isMajor: 3.79,
  isMinor: 3.02,
  isSeventh: 1.42,
  isSus: -0.08,
  susThirdKnown: 0.25,
  isAdd: 0.81,
  isPower: 1.25,
  powerThirdKnown: -1.71,
  degreeHome: -0.44,
  degreeSecond: -0.21,
  degreeThird: -1.5,
  degreeFourth: 0.15,
  degreeFifth: 0.05,
  degreeSixth: -0.68,
  degreeSeventh: 0.55,
  rootInLowVoice: 0.12,
  lowFirst: 2.4,
  lowShare: 0.19,
  lowHeld: -0.65,
  lowHeight: -0.83,
  lowUsed: 1.56,
} as const;

export type ChordFeature = keyof typeof CHORD_WEIGHTS;

/** @property cut each change of chord within a bar @property oddCut a bar not cut in halves @property cutUsual cuts times the share of bars that
 * have some @property thin pitch classes under three that a piece strikes @property unstruck a piece that strikes nothing; both by share of the bar */
export const CUT_WEIGHTS = {
  cut: -2.87,
  oddCut: -3.48,
  cutUsual: 3.09,
  thin: -0.5,
  unstruck: -2,
} as const;

export type CutFeature = keyof typeof CUT_WEIGHTS;

import { expect, test } from "vitest";
import { mixByWebAudio } from "../../cli/mixdesk.js";
import { mixDown } from "../../src/play/mix.js";

test("mix: gain and pan agree with web-audio-api's graph (W3C Web Audio API) to -90 dB, over the seam of two pieces too", async () => {
  const rate = 8000;
  const samples = Float32Array.from(
    { length: rate * 25 },
    (_, k) => 0.5 * Math.sin(k * 0.07) + 0.2 * Math.sin(k * 0.331),
  );
  const tracks = [
    { samples, gain: 0.8, pan: -0.4 },
    { samples: samples.subarray(0, rate * 22).map((x) => -x / 2), gain: 0.5, pan: 0.7 },
    { samples: samples.subarray(0, 500), gain: 1, pan: 0 },
  ];
  const own = await mixDown(tracks, rate);
  const other = await mixByWebAudio(tracks, rate);
  for (const side of [0, 1] as const) {
    let error = 0;
    let power = 0;
    for (let k = 0; k < own[side].length; k++) {
      error += ((own[side][k] ?? 0) - (other[side][k] ?? 0)) ** 2;
      power += (own[side][k] ?? 0) ** 2;
    }
    expect(10 * Math.log10(error / power)).toBeLessThan(-90);
  }
});

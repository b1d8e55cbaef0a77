/** Signs above and between the bars: tempo, swing, section letters, repeats and endings. */
import type { Repeat, Sheet } from "../sheet/sheet.js";
import { NOTE_TYPES } from "./rhythm.js";
import { el, type XmlNode } from "./xml.js";

/** Tempo mark and, where the feel is swing, its mark and ratio. Sound tempo is in quarters a minute whatever the beat is. */
export function headDirections(sheet: Sheet): XmlNode[] {
  const { tempoBpm, meter, feel, swingRatio } = sheet.grid;
  const beatUnit = NOTE_TYPES[Math.round(Math.log2(meter.unit))] ?? "quarter";
  const perMinute = Number(tempoBpm.toFixed(3));
  const nodes = [
    el("direction", { placement: "above" }, [
      el("direction-type", {}, [
        el("metronome", {}, [el("beat-unit", {}, beatUnit), el("per-minute", {}, perMinute)]),
      ]),
      el("sound", { tempo: Number(((tempoBpm * 4) / meter.unit).toFixed(3)) }),
    ]),
  ];
  if (feel === "swing") {
    const [first, second] = wholeRatio(swingRatio);
    nodes.push(
      el("direction", { placement: "above" }, [
        el("direction-type", {}, [el("words", {}, "Swing")]),
        el("sound", {}, [
          el("swing", {}, [
            el("first", {}, first),
            el("second", {}, second),
            el(
              "swing-type",
              {},
              NOTE_TYPES[Math.round(Math.log2(meter.unit)) + 1] === "16th" ? "16th" : "eighth",
            ),
          ]),
        ]),
      ]),
    );
  }
  return nodes;
}

/** Smallest whole numbers whose ratio is `ratio` to a hundredth. */
function wholeRatio(ratio: number): [number, number] {
  for (let second = 1; second <= 100; second++) {
    const first = Math.round(ratio * second);
    if (first >= 1 && Math.abs(first / second - ratio) < 0.005) return [first, second];
  }
  return [Math.max(1, Math.round(ratio * 100)), 100];
}

/** The section's letter where one begins. */
export function rehearsalDirection(sheet: Sheet, bar: number): XmlNode | undefined {
  const part = sheet.form.find((p) => p.bars[0] === bar);
  if (!part?.label) return undefined;
  return el("direction", { placement: "above" }, [
    el("direction-type", {}, [el("rehearsal", {}, part.label)]),
  ]);
}

const endingAt = (
  repeat: Repeat,
  bar: number,
  edge: "first" | "last",
): Repeat["endings"][number] | undefined =>
  repeat.endings.find((e) => (edge === "first" ? e.bars[0] : e.bars.at(-1)) === bar);

/** Opening repeat or ending at the left of a bar. */
export function leftBarline(sheet: Sheet, bar: number): XmlNode | undefined {
  const starts = sheet.repeats.some((r) => r.fromBar === bar);
  const ending = sheet.repeats.map((r) => endingAt(r, bar, "first")).find((e) => e !== undefined);
  if (!starts && !ending) return undefined;
  return el("barline", { location: "left" }, [
    starts ? el("bar-style", {}, "heavy-light") : undefined,
    ending && el("ending", { number: ending.times.join(","), type: "start" }, `${ending.times.join(", ")}.`),
    starts ? el("repeat", { direction: "forward" }) : undefined,
  ]);
}

/** Closing repeat, end of an ending, or the final bar line at the right of a bar.
 * Every ending but the last leads back; without endings the repeat's last bar does. */
export function rightBarline(sheet: Sheet, bar: number, isLastBar: boolean): XmlNode | undefined {
  const repeat = sheet.repeats.find((r) => r.toBar === bar || endingAt(r, bar, "last") !== undefined);
  if (!repeat)
    return isLastBar ? el("barline", { location: "right" }, [el("bar-style", {}, "light-heavy")]) : undefined;
  const ending = endingAt(repeat, bar, "last");
  const goesBack =
    repeat.endings.length === 0
      ? repeat.toBar === bar
      : ending !== undefined && !ending.times.includes(repeat.times);
  if (!goesBack && !ending)
    return isLastBar ? el("barline", { location: "right" }, [el("bar-style", {}, "light-heavy")]) : undefined;
  return el("barline", { location: "right" }, [
    goesBack || isLastBar ? el("bar-style", {}, "light-heavy") : undefined,
    ending &&
      el("ending", {
        number: ending.times.join(","),
        type: goesBack ? "stop" : "discontinue",
      }),
    goesBack
      ? el("repeat", { direction: "backward", times: repeat.times === 2 ? undefined : repeat.times })
      : undefined,
  ]);
}

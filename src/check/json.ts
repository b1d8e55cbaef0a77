/** The report as the JSON document `pulgar.check`, version 1. In: CheckReport. Out: a plain object; absent values are left out. */
import type { CheckReport } from "./report.js";

/** Field names are an interface: see the README. Tests of the document outside this program read them. */
export function reportToJson(report: CheckReport): object {
  const { written, matched, missing, extra, wrongPitch, timing } = report.summary;
  return {
    format: "pulgar.check",
    version: 1,
    summary: { written, matched, missing, extra, wrongPitch, timing },
    bars: report.bars.map(({ bar, verdict }) => ({ bar, verdict })),
    differences: report.differences.map((d) => ({
      kind: d.kind,
      bar: d.bar,
      beat: d.beat,
      ...(d.string === undefined ? {} : { string: d.string }),
      ...(d.fret === undefined ? {} : { fret: d.fret }),
      ...(d.writtenMidi === undefined ? {} : { writtenMidi: d.writtenMidi }),
      ...(d.playedMidi === undefined ? {} : { playedMidi: d.playedMidi }),
      ...(d.onsetSec === undefined ? {} : { onsetSec: d.onsetSec }),
      ...(d.offMs === undefined ? {} : { offMs: d.offMs }),
      ...(d.playedFret === undefined ? {} : { playedFret: d.playedFret }),
      ...(d.playedString === undefined ? {} : { playedString: d.playedString }),
      confidence: d.confidence,
    })),
    findings: report.findings.map(({ rule, level, bar, message, hint }) => ({
      rule,
      level,
      bar,
      message,
      hint,
    })),
  };
}

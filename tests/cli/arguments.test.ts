// The command line's words: flags, values, help. Exit codes as DEVELOPERS.md says; tempo arithmetic by hand.
import { expect, test } from "vitest";
import { parseCommandLine } from "../../cli/arguments.js";
import { COMMANDS } from "../../cli/command-table.js";
import { parseMeter, tempoOf } from "../../cli/flag-values.js";
import { commandHelp, completionScript, manPage, programHelp } from "../../cli/help.js";
import { PulgarError } from "../../src/base/errors.js";
import { editCount, nearestWord } from "../../src/base/nearest.js";
import { runCli } from "../helpers/run-cli.js";

const trouble = (argv: string[]): PulgarError => {
  try {
    parseCommandLine(argv);
  } catch (e) {
    if (e instanceof PulgarError) return e;
    throw e;
  }
  throw new Error(`accepted: ${argv.join(" ")}`);
};

for (const [argv, says, hints] of [
  [["transcrbe", "a.wav"], "transcrbe: no such command", "Did you mean transcribe?"],
  [["transcribe", "a.wav", "--tmpo", "90"], "--tmpo: transcribe has no such flag", "Did you mean --tempo?"],
  [["transcribe", "a.wav", "--feel", "swin"], "--feel swin: need straight, swing", "Did you mean swing?"],
  [["transcribe", "a.wav", "--tempo"], "--tempo needs a value", "For instance"],
  [["transcribe", "a.wav", "--tempo", "--json"], "--tempo needs a value", "For instance"],
  [["transcribe", "a.wav", "--tempo", "90", "--tempo", "91"], "--tempo is given twice", "once"],
  [["transcribe", "a.wav", "--afresh=yes"], "--afresh takes no value", "by itself"],
  [["transcribe"], "transcribe takes TAKE…, found none", "pulgar transcribe"],
  [["check", "a.wav"], "check takes TAKE SHEET, found 1", "pulgar check"],
  [["--tempo", "90"], "--tempo: the command comes first", "pulgar transcribe"],
] as const)
  test(`arguments: ${argv.join(" ")} is refused in words`, () => {
    const error = trouble([...argv]);
    expect(error.code).toBe("bad-usage");
    expect(error.message).toContain(says);
    expect(error.hint).toContain(hints);
  });

test("arguments: flags may stand anywhere, values may be joined, -- ends them", () => {
  const parsed = parseCommandLine(["transcribe", "--tempo=92", "a.wav", "--json", "--", "--odd-name.wav"]);
  expect(parsed).toMatchObject({
    kind: "run",
    args: ["a.wav", "--odd-name.wav"],
    flags: { tempo: "92", json: true },
  });
});

test("arguments: 6/8 at 60 dotted quarters is 180 eighths a minute (3 eighths to a dotted quarter, by hand)", () => {
  expect(tempoOf({ dottedTempo: "60" }, { beats: 6, unit: 8 })).toBe(180);
  expect(() => tempoOf({ dottedTempo: "60" }, { beats: 4, unit: 4 })).toThrow("needs a meter in threes");
  expect(() => tempoOf({ tempo: "60", dottedTempo: "60" }, { beats: 6, unit: 8 })).toThrow("clash");
});

for (const text of ["4", "0/4", "4/3", "x/y", "4/4/4", "99/4", ""])
  test(`arguments: meter "${text}" is refused by code`, () => {
    expect(() => parseMeter(text)).toThrow(expect.objectContaining({ code: "bad-meter" }));
  });

for (const text of ["0", "-5", "fast", "Infinity", "501", ""])
  test(`arguments: tempo "${text}" is refused by code`, () => {
    expect(() => tempoOf({ tempo: text }, undefined)).toThrow(expect.objectContaining({ code: "bad-tempo" }));
  });

test("arguments: edits between words as Damerau 1964 counts them", () => {
  expect(editCount("kitten", "sitting")).toBe(3); // the textbook example
  expect(editCount("ab", "ba")).toBe(1);
  expect(nearestWord("exprot", ["export", "check"])).toBe("export");
  expect(nearestWord("zzzzzz", ["export", "check"])).toBeUndefined();
});

for (const row of COMMANDS)
  test(`help: ${row.name} answers -h on one screen and --help with every flag`, async () => {
    const short = await runCli([row.name, "-h"]);
    const long = await runCli([row.name, "--help"]);
    expect([short.code, long.code, short.err, long.err]).toEqual([0, 0, "", ""]);
    expect(short.out.split("\n").length).toBeLessThan(25);
    expect(short.out.split("\n").every((line) => line.length <= 110)).toBe(true);
    for (const flag of row.flags) expect(long.out).toContain(`--${flag.name}`);
    expect(long.out).toContain(row.example);
    expect(long.out).toContain("130");
  });

test("help: the program's help names every command, the long one the exit codes", () => {
  for (const row of COMMANDS) expect(programHelp(false)).toContain(`${row.name} `);
  expect(programHelp(true)).toContain("130");
  expect(commandHelp(COMMANDS[0] ?? fail(), false)).toContain("For example");
});

test("help: completion scripts and the manual page hold every command and flag", () => {
  for (const shell of ["bash", "zsh", "fish"] as const)
    for (const row of COMMANDS) expect(completionScript(shell)).toContain(row.name);
  const page = manPage("1.2.3");
  for (const row of COMMANDS)
    for (const flag of row.flags) expect(page).toContain(`\\-\\-${flag.name.replaceAll("-", "\\-")}`);
});

test("arguments: an error as JSON is one document with code, message and hint", async () => {
  const ran = await runCli(["nonsense", "--json"]);
  expect(ran.code).toBe(2);
  expect(JSON.parse(ran.out)).toMatchObject({
    error: { code: "bad-usage", message: "nonsense: no such command" },
  });
});

function fail(): never {
  throw new Error("no commands");
}

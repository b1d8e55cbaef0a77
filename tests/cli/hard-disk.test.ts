// Disks, folders and files that go wrong under a run. A full and a read-only disk are real ones, of 64 kB in memory, in a name space of the
// test's own (unshare(1), tmpfs(5)); where a machine does not allow that, the tests are skipped by name. Errors: ENOSPC, EROFS (POSIX.1-2017).
import { spawnSync } from "node:child_process";
import { cpSync, existsSync, mkdirSync, readdirSync, readFileSync, unlinkSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { beforeAll, expect, test } from "vitest";
import { runCommandLine } from "../../cli/run.js";
import { sheetFromJson } from "../../src/sheet/json.js";
import { sheetFromText } from "../../src/sheet/parse.js";
import { builtProgram, runBuilt } from "../helpers/built.js";
import { ROOT, testNeeding } from "../helpers/needs.js";
import { runCli, tempFolder } from "../helpers/run-cli.js";

const folder = tempFolder();
const sample = join(ROOT, "samples/mixolydian-over-a.wav");
const sheet = join(ROOT, "samples/mixolydian-over-a.tab.txt");
let main: string;
beforeAll(() => {
  main = builtProgram(join(folder, "program"));
});

/** Runs a shell script where $DISK is a disk of 64 kB; Linux only. */
function onSmallDisk(script: string): { status: number | null; out: string } {
  const disk = join(folder, "disk");
  mkdirSync(disk, { recursive: true });
  const ran = spawnSync(
    "unshare",
    [
      "--map-root-user",
      "--mount",
      "sh",
      "-c",
      `mount -t tmpfs -o size=64k tmpfs "$DISK" || exit 99\n${script}`,
    ],
    {
      encoding: "utf8",
      env: { ...process.env, DISK: disk, MAIN: main, NODE: process.execPath, SHEET: sheet, TAKE: sample },
    },
  );
  return { status: ran.status, out: `${ran.stdout}${ran.stderr}` };
}
const canMount = onSmallDisk("true").status === 0;

testNeeding(
  canMount,
  "unshare and tmpfs",
  "hard disk: a full one leaves the old file and nothing half written",
  () => {
    const { out } = onSmallDisk(`
    echo old > "$DISK/x.wav"
    "$NODE" "$MAIN" export "$SHEET" --to wav --out "$DISK/x.wav" --force; echo "code $?"
    cat "$DISK/x.wav"; ls -A "$DISK"`);
    expect(out).toContain("x.wav: could not be written (ENOSPC)");
    expect(out).toContain("hint: Check the folder's permissions and the space on the disk.");
    expect(out).toMatch(/code 2\nold\nx\.wav\n/);
  },
);

testNeeding(
  canMount,
  "unshare and tmpfs",
  "hard disk: a full one keeps a sheet's two files as they were",
  () => {
    const { out } = onSmallDisk(`
    dd if=/dev/zero of="$DISK/filler" bs=1k count=48 2>/dev/null
    echo "old text" > "$DISK/mixolydian-over-a.tab.txt"
    "$NODE" "$MAIN" transcribe "$TAKE" --tempo 96 --out "$DISK" --force --afresh --quiet; echo "code $?"
    cat "$DISK/mixolydian-over-a.tab.txt"; ls -A "$DISK"`);
    expect(out).toContain("(ENOSPC)"); // the text fits, the evidence does not
    expect(out).toMatch(/code 2\nold text\nfiller\nmixolydian-over-a\.tab\.txt\n/);
  },
);

testNeeding(
  canMount,
  "unshare and tmpfs",
  "hard disk: a read-only folder is refused in words, with nothing left",
  () => {
    const { out } = onSmallDisk(`
    mount -o remount,ro "$DISK"
    for to in midi pdf; do "$NODE" "$MAIN" export "$SHEET" --to $to --out "$DISK/x.$to"; echo "code $?"; done
    ls -A "$DISK"; echo end`);
    expect(out.match(/could not be written \(EROFS\)/g)).toHaveLength(2);
    expect(out).toMatch(/code 2\n(.*\n)*code 2\n(error.*\nhint.*\n)?end\n/);
  },
);

test("hard disk: a take that vanishes before its turn is named, and the rest is drafted", async () => {
  const takes = join(folder, "takes");
  const out = join(folder, "drafts");
  mkdirSync(takes);
  for (const name of ["a.wav", "b.wav", "c.wav"]) cpSync(sample, join(takes, name));
  writeFileSync(join(takes, "d.wav"), "RIFF and then nothing that is sound");
  let err = "";
  let printed = "";
  const code = await runCommandLine(["transcribe", takes, "--tempo", "96", "--out", out], {
    out: (text) => {
      printed += text;
      if (existsSync(join(takes, "b.wav"))) unlinkSync(join(takes, "b.wav")); // after the first is done
    },
    err: (text) => {
      err += text;
    },
    outBytes: () => undefined,
    isErrTerminal: false,
    isQuiet: false,
    hasColor: false,
    isJson: false,
  });
  expect(code).toBe(2);
  expect(err).toMatch(/error: .*b\.wav: no such file/);
  expect(err).toContain("2 of 4 takes could not be drafted.");
  expect(readdirSync(out).sort()).toEqual(["a.sheet.json", "a.tab.txt", "c.sheet.json", "c.tab.txt"]);
  expect(printed).toContain("A\n");
  // one display for all: every line of progress says which of how many
  expect(
    err
      .split("\n")
      .filter((line) => /reading|listening/.test(line))
      .every((line) => /^[1-4]\/4 [a-d]\.wav: /.test(line)),
  ).toBe(true);
}, 180_000);

test("hard disk: takes that would be written over each other are refused before any work", async () => {
  const other = join(folder, "other");
  mkdirSync(other);
  cpSync(sample, join(other, "mixolydian-over-a.wav"));
  const ran = await runCli(["transcribe", sample, other, "--out", join(folder, "both"), "--force"]);
  expect([ran.code, ran.err]).toEqual([2, expect.stringContaining("both would be written to")]);
  expect(existsSync(join(folder, "both"))).toBe(false);
});

for (const force of [[], ["--force", "--afresh"]])
  test(`hard disk: two runs at once on one folder leave one whole sheet (${force.join(" ") || "without --force"})`, async () => {
    const out = join(folder, `twice-${force.length}`);
    const argv = ["transcribe", sample, "--tempo", "96", "--out", out, "--quiet", ...force];
    const ended = await Promise.all([runBuilt(main, argv), runBuilt(main, argv)]);
    for (const { code, err } of ended)
      if (code !== 0) expect([code, err]).toEqual([2, expect.stringContaining("is there already")]);
    expect(ended.some(({ code }) => code === 0)).toBe(true);
    expect(readdirSync(out).sort()).toEqual(["mixolydian-over-a.sheet.json", "mixolydian-over-a.tab.txt"]);
    const text = sheetFromText(readFileSync(join(out, "mixolydian-over-a.tab.txt"), "utf8")).sheet;
    const json = sheetFromJson(JSON.parse(readFileSync(join(out, "mixolydian-over-a.sheet.json"), "utf8")));
    expect(text.notes.map((n) => [n.bar, n.tick, n.string, n.fret])).toEqual(
      json.notes.map((n) => [n.bar, n.tick, n.string, n.fret]),
    );
  }, 180_000);

test("hard disk: names in any script and as long as the file system takes give whole files", async () => {
  const out = join(folder, "names");
  for (const stem of ["Übung – 練習 🎸 (1)", "練".repeat(80), `${"x".repeat(59)}${"🎸".repeat(45)}`]) {
    const from = join(folder, `${stem}.tab.txt`);
    cpSync(sheet, from);
    const ran = await runCli(["export", from, "--to", "midi,json", "--out", out, "--force"]);
    expect([ran.code, ran.err]).toEqual([0, expect.stringContaining("wrote")]);
  }
  const names = readdirSync(out);
  expect(names.length).toBe(6);
  expect(names.every((name) => !name.includes("\uFFFD") && !name.endsWith(".part"))).toBe(true); // no character is cut in two
});

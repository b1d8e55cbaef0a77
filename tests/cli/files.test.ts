// Safe writing: the old file or the new one is whole at every moment, also when the process is killed. Source: rename(2), POSIX.1-2017:
// "rename shall ensure that a link named new shall remain visible to other threads throughout".
import { spawn } from "node:child_process";
import { mkdirSync, readdirSync, readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { build } from "vite";
import { beforeAll, expect, test } from "vitest";
import { refuseOverwrite, stemOf, writeWhole } from "../../cli/files.js";
import { ROOT } from "../helpers/needs.js";
import { tempFolder } from "../helpers/run-cli.js";

const folder = tempFolder();
const KILLS = 200;
const bundle = join(folder, "bundle");

beforeAll(async () => {
  await build({
    configFile: false,
    logLevel: "silent",
    build: {
      ssr: join(ROOT, "cli/files.ts"),
      outDir: bundle,
      rollupOptions: { output: { entryFileNames: "files.mjs" } },
    },
    ssr: { external: true as never, noExternal: [] },
    root: ROOT,
  });
  writeFileSync(
    join(folder, "writer.mjs"),
    `import { writeWhole } from "./bundle/files.mjs";
     const path = process.argv[2];
     for (let k = 0; ; k++) {
       await writeWhole(path, (k % 2 ? "B" : "A").repeat(300_000), { force: true });
       if (k === 0) process.stdout.write("begun");
     }`,
  );
});

test("files: killed 200 times while writing, the file is whole each time", async () => {
  const target = join(folder, "kills", "sheet.tab.txt");
  mkdirSync(join(folder, "kills"));
  let seen = 0;
  for (let k = 0; k < KILLS; k++) {
    const child = spawn(process.execPath, [join(folder, "writer.mjs"), target], {
      stdio: ["ignore", "pipe", "ignore"],
    });
    await new Promise((done) => child.stdout.once("data", done));
    await new Promise((done) => setTimeout(done, (k * 7) % 23)); // moments spread over several writes
    child.kill("SIGKILL");
    await new Promise((done) => child.once("exit", done));
    const text = readFileSync(target, "utf8");
    expect(text.length).toBe(300_000);
    expect([..."AB"].some((letter) => text === letter.repeat(300_000))).toBe(true);
    seen++;
  }
  expect(seen).toBe(KILLS);
}, 600_000);

test("files: an existing file is refused without force, replaced with it, and no part is left", async () => {
  const path = join(folder, "there.txt");
  await writeWhole(path, "old");
  await expect(writeWhole(path, "new")).rejects.toMatchObject({ code: "exists" });
  expect(readFileSync(path, "utf8")).toBe("old");
  await writeWhole(path, "new", { force: true });
  expect(readFileSync(path, "utf8")).toBe("new");
  expect(readdirSync(folder).filter((n) => n.endsWith(".part"))).toEqual([]);
});

test("files: the input is never overwritten, force or not, by whatever name it goes", async () => {
  const path = join(folder, "take.txt");
  writeFileSync(path, "take");
  await expect(refuseOverwrite([path], { force: true, inputs: [path] })).rejects.toMatchObject({
    code: "exists",
  });
  await expect(
    refuseOverwrite([join(folder, "kills", "..", "take.txt")], { force: true, inputs: [path] }),
  ).rejects.toMatchObject({ code: "exists" });
});

test("files: unicode and very long names are written or refused in words", async () => {
  const path = join(folder, "Übung – 練習 🎸.tab.txt");
  await writeWhole(path, "x");
  expect(readFileSync(path, "utf8")).toBe("x");
  await expect(writeWhole(join(folder, `${"n".repeat(400)}.txt`), "x")).rejects.toMatchObject({
    code: "not-writable",
  });
  expect(stemOf("a/b/Étude nº 1.mp4")).toBe("Étude nº 1");
  expect(stemOf("x".repeat(300)).length).toBe(120);
});

test("files: two writers on one file leave one whole file", async () => {
  const path = join(folder, "two.txt");
  const texts = ["1", "2", "3", "4"].map((c) => c.repeat(200_000));
  await Promise.all(texts.map((text) => writeWhole(path, text, { force: true })));
  expect(texts).toContain(readFileSync(path, "utf8"));
});

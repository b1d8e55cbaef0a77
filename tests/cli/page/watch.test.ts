import { mkdtemp, rename, writeFile } from "node:fs/promises";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { expect, test } from "vitest";
import { watchFiles } from "../../../cli/page/watch.js";
import { drop } from "./review-fixture.js";

test("review watch: a write, and a file put in the place of another, are noticed; other files and what comes after the end are not", async () => {
  const dir = await mkdtemp(join(tmpdir(), "pulgar-watch-"));
  const files = { text: join(dir, "x.tab.txt"), json: join(dir, "x.sheet.json") };
  await writeFile(files.text, "one");
  let count = 0;
  const end = watchFiles(files, () => count++);
  await new Promise((done) => setTimeout(done, 300)); // what was written before the watch is past
  count = 0;
  await writeFile(files.text, "two");
  await expect.poll(() => count, { timeout: 4000 }).toBe(1);
  await writeFile(join(dir, "new"), "three");
  await rename(join(dir, "new"), files.json); // as editors and we write
  await expect.poll(() => count, { timeout: 4000 }).toBe(2);
  await writeFile(join(dir, "other.txt"), "x");
  await new Promise((done) => setTimeout(done, 600));
  expect(count).toBeLessThanOrEqual(3); // at most the look now and then
  end();
  const last = count;
  await writeFile(files.text, "four");
  await new Promise((done) => setTimeout(done, 600));
  expect(count).toBe(last);
  await drop(dir);
});

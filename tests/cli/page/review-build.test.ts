import { readdir, readFile } from "node:fs/promises";
import { join } from "node:path";
import { gzipSync } from "node:zlib";
import { expect, test } from "vitest";
import { builtPage, drop } from "./review-fixture.js";

test("review build: scripts under 300 kB compressed, relative addresses, nothing inline, nothing from elsewhere", async () => {
  const dir = await builtPage();
  const names = await readdir(dir, { recursive: true });
  const scripts = names.filter((name) => name.endsWith(".js"));
  expect(scripts.length).toBeGreaterThan(0);
  let total = 0;
  for (const name of scripts) {
    const text = await readFile(join(dir, name), "utf8");
    total += gzipSync(text).length;
    expect(text.match(/https?:\/\/(?!www\.w3\.org)[^"'` ]+/g), name).toBeNull();
  }
  expect(total).toBeLessThan(300_000);
  const page = await readFile(join(dir, "index.html"), "utf8");
  for (const [, address] of page.matchAll(/(?:src|href)="([^"]*)"/g))
    expect(address).toMatch(/^(\.\/|data:,)/);
  expect(page).not.toMatch(/<script[^>]*>[^<]|style="|\son\w+=/);
  await drop(dir);
});

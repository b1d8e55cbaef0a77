/** What the review server refuses. Sources: RFC 9110 (Host, ranges), the Fetch standard (Origin, Sec-Fetch-Site), CSP level 3; attacks tried by hand. */
import { mkdtemp, readFile, symlink, writeFile } from "node:fs/promises";
import { type IncomingMessage, request } from "node:http";
import { connect } from "node:net";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, beforeAll, describe, expect, test } from "vitest";
import { takeOfSheet } from "../../../cli/take-of-sheet.js";
import { drop, type Folder, onDisk, review, reviewFolder } from "./review-fixture.js";

type Asked = {
  path?: string;
  method?: string;
  headers?: Record<string, string>;
  body?: string;
  port?: number;
};

describe("review server", () => {
  let folder: Folder;
  let pageDir: string;
  let opened: Awaited<ReturnType<typeof review>>;

  beforeAll(async () => {
    folder = await reviewFolder();
    pageDir = await mkdtemp(join(tmpdir(), "pulgar-plain-"));
    await writeFile(join(pageDir, "index.html"), "<!doctype html><title>page</title>");
    opened = await review(folder, pageDir);
  });
  afterAll(async () => {
    await opened.close();
    await drop(folder.dir, pageDir);
  });

  function ask(asked: Asked): Promise<{ status: number; headers: IncomingMessage["headers"]; body: string }> {
    const { port, token } = opened.page;
    return new Promise((done, fail) => {
      const out = request(
        {
          host: "127.0.0.1",
          port,
          path: asked.path ?? `/${token}/state`,
          method: asked.method ?? "GET",
          headers: { host: `127.0.0.1:${port}`, ...asked.headers },
        },
        (answer) => {
          const parts: Buffer[] = [];
          answer.on("data", (part: Buffer) => parts.push(part));
          answer.on("end", () =>
            done({
              status: answer.statusCode ?? 0,
              headers: answer.headers,
              body: Buffer.concat(parts).toString("latin1"),
            }),
          );
        },
      );
      out.on("error", fail);
      out.end(asked.body);
    });
  }
  const json = (): Record<string, string> => ({
    "content-type": "application/json",
    origin: `http://127.0.0.1:${opened.page.port}`,
  });
  const post = (path: string, body: unknown, headers: Record<string, string> = json()) =>
    ask({
      path: `/${opened.page.token}/${path}`,
      method: "POST",
      headers,
      body: typeof body === "string" ? body : JSON.stringify(body),
    });

  test("review server: answers its own page, with the policy on every answer", async () => {
    const answer = await ask({});
    expect(answer.status).toBe(200);
    expect(JSON.parse(answer.body).sheet.notes.length).toBe(folder.sheet.notes.length);
    for (const { headers } of [
      answer,
      await ask({ path: "/nothing" }),
      await ask({ path: `/${opened.page.token}/` }),
    ]) {
      expect(headers["content-security-policy"]).toContain("default-src 'none'");
      expect(headers["content-security-policy"]).not.toContain("unsafe");
      expect(headers["x-content-type-options"]).toBe("nosniff");
      expect(headers["access-control-allow-origin"]).toBeUndefined();
      expect(headers["referrer-policy"]).toBe("no-referrer");
    }
  });

  test("review server: listens on 127.0.0.1 alone, with a token of 192 bits that differs every time", async () => {
    const other = await review(folder, pageDir);
    expect(Buffer.from(opened.page.token, "base64url")).toHaveLength(24);
    expect(other.page.token).not.toBe(opened.page.token);
    await other.close();
    await expect(
      new Promise((done, fail) => {
        const socket = connect(opened.page.port, "127.0.0.2", () => done("open"));
        socket.on("error", fail);
      }),
    ).rejects.toMatchObject({ code: "ECONNREFUSED" });
  });

  test("review server: no token, an old token, part of a token: refused", async () => {
    const { token } = opened.page;
    for (const path of [
      "/",
      "/state",
      "/x/state",
      `/${token.slice(0, -1)}/state`,
      `/${token}x/state`,
      `/${token.toUpperCase()}/state`,
      `//${token}/state`,
    ])
      expect((await ask({ path })).status, path).toBe(403);
  });

  test("review server: a foreign host, origin or site is refused", async () => {
    for (const host of [
      "evil.example",
      "evil.example:80",
      "127.0.0.1",
      "127.0.0.1:1",
      `evil.example:${opened.page.port}`,
      "[::1]",
    ])
      expect((await ask({ headers: { host } })).status, host).toBe(421);
    for (const origin of [
      "https://evil.example",
      "null",
      "http://127.0.0.1:1",
      `https://127.0.0.1:${opened.page.port}`,
    ]) {
      expect((await ask({ headers: { origin } })).status, origin).toBe(403);
      expect((await post("undo", { version: "x" }, { ...json(), origin })).status, origin).toBe(403);
    }
    for (const site of ["cross-site", "same-site"])
      expect((await ask({ headers: { "sec-fetch-site": site } })).status, site).toBe(403);
    expect((await post("undo", { version: "x" }, { "content-type": "application/json" })).status).toBe(403); // no origin
    expect((await post("undo", { version: "x" }, { ...json(), "content-type": "text/plain" })).status).toBe(
      415,
    ); // a form of another page
    expect((await ask({ method: "DELETE", headers: json() })).status).toBe(405);
    expect((await ask({ method: "OPTIONS", headers: json() })).status).toBe(405);
  });

  test("review server: no path leads out of the page's folder or to files beside the sheet", async () => {
    await writeFile(join(folder.dir, "private.txt"), "secret");
    await symlink(join(folder.dir, "private.txt"), join(pageDir, "late-link.txt"));
    const { token } = opened.page;
    for (const path of [
      "../../etc/passwd",
      "..%2f..%2fetc%2fpasswd",
      "%2e%2e/%2e%2e/etc/passwd",
      "....//....//etc/passwd",
      "..\\..\\etc\\passwd",
      "..%5c..%5cetc%5cpasswd",
      "take.tab.txt",
      "private.txt",
      "late-link.txt",
      "recording/../private.txt",
      "recording%00.txt",
      "picture/../../x",
      "picture/-1",
      "picture/1e9",
    ]) {
      const answer = await ask({ path: `/${token}/${path}` });
      expect([400, 403, 404, 422], path).toContain(answer.status);
      expect(answer.body).not.toMatch(/root:|secret/);
    }
  });

  test("review server: a sheet cannot name a recording outside its folder", async () => {
    await writeFile(join(folder.dir, "inside.wav"), "x");
    await symlink("/etc/passwd", join(folder.dir, "link.wav"));
    const beside = (file: string) =>
      takeOfSheet(
        { take: { file, durationSec: 1, sampleRateHz: 44100, tuningCents: 0 } },
        folder.text,
        undefined,
      );
    expect(await beside("inside.wav")).toContain("inside.wav");
    for (const file of ["link.wav", "../x.wav", "/etc/passwd", "sub/x.wav", ".hidden.wav", "absent.wav", ""])
      expect(await beside(file), file).toBeUndefined();
  });

  test("review server: bodies that are huge, broken or no mend are refused, and the sheet stays", async () => {
    const before = await readFile(folder.json, "utf8");
    const { version } = JSON.parse((await ask({})).body) as { version: string };
    expect((await post("mend", `{"x":"${"a".repeat(600_000)}"}`)).status).toBe(413);
    expect((await post("mend", "{not json")).status).toBe(400);
    for (const body of [
      {},
      { version },
      { version, edits: [] },
      { version, edits: [{ kind: "run", what: "rm" }] },
      { version, edits: [{ kind: "set-fret", at: { bar: 1, tick: 0, string: 9 }, fret: 1 }] },
      { version, edits: [{ kind: "set-fret", at: { bar: 1, tick: 0, string: 5 }, fret: 99 }] },
      { version, edits: [{ kind: "set-fret", at: { bar: 1, tick: 0, string: 5 }, fret: 1, extra: 1 }] },
      { version, edits: [{ kind: "set-title", title: 5 }] },
      { version, edits: [{ kind: "set-grid", tempoBpm: 0 }] },
      { version: 3, edits: [{ kind: "set-title", title: "x" }] },
    ]) {
      const answer = await post("mend", body);
      expect(answer.status, JSON.stringify(body)).toBe(422);
      expect(JSON.parse(answer.body).error.code).toMatch(/^(bad-usage|unplayable)$/);
    }
    expect(
      (await post("mend", { version: "old-0", edits: [{ kind: "set-title", title: "x" }] })).status,
    ).toBe(409);
    expect(await readFile(folder.json, "utf8")).toBe(before);
    expect((await onDisk(folder)).title).toBe(folder.sheet.title);
  });

  test("review server: a request that never ends is dropped", async () => {
    const started = Date.now();
    await new Promise<void>((done) => {
      const socket = connect(opened.page.port, "127.0.0.1", () =>
        socket.write("GET / HTTP/1.1\r\nHost: x\r\nX: "),
      );
      socket.on("close", () => done());
      socket.on("error", () => undefined);
      socket.resume();
    });
    expect(Date.now() - started).toBeLessThan(50_000); // limits of 15 s for the head, checked by Node every 30 s
  }, 60_000);

  test("review server: the recording comes in ranges (RFC 9110, section 14)", async () => {
    await expect.poll(async () => JSON.parse((await ask({})).body).take.kind).toBe("ready");
    const { token } = opened.page;
    const file = await readFile(join(folder.dir, "take.wav"));
    for (const path of ["recording", "recording.wav"]) {
      const part = await ask({ path: `/${token}/${path}`, headers: { range: "bytes=0-3" } });
      expect([part.status, part.body]).toEqual([206, "RIFF"]);
      expect(part.headers["content-range"]).toMatch(/^bytes 0-3\/\d+$/);
      expect((await ask({ path: `/${token}/${path}`, headers: { range: "bytes=99999999-" } })).status).toBe(
        416,
      );
      const end = await ask({ path: `/${token}/${path}`, headers: { range: "bytes=-10" } });
      expect(end.body).toHaveLength(10);
    }
    expect((await ask({ path: `/${token}/recording` })).body).toHaveLength(file.length);
  });
});

/** Many at the review server's door, and every spelling of a way out of its folder. Sources: RFC 3986, 2.1 (percent encoding); RFC 3629, 10 (overlong
 * UTF-8); RFC 9112, 3.2 (request targets). */
import { mkdtemp, writeFile } from "node:fs/promises";
import { get } from "node:http";
import { connect, type Socket } from "node:net";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, beforeAll, expect, test } from "vitest";
import { drop, type Folder, review, reviewFolder } from "./review-fixture.js";

let folder: Folder;
let pageDir: string;
let opened: Awaited<ReturnType<typeof review>>;

beforeAll(async () => {
  folder = await reviewFolder();
  pageDir = await mkdtemp(join(tmpdir(), "pulgar-crowd-"));
  await writeFile(join(pageDir, "index.html"), "<!doctype html><title>page</title>");
  await writeFile(join(folder.dir, "private.txt"), "secret");
  opened = await review(folder, pageDir);
});
afterAll(async () => {
  await opened.close();
  await drop(folder.dir, pageDir);
});

/** Status of one answer; 0 where the connection was refused or dropped. */
const status = (path: string): Promise<number> =>
  new Promise((done) => {
    const out = get({ host: "127.0.0.1", port: opened.page.port, path, agent: false }, (answer) => {
      answer.resume();
      answer.on("end", () => done(answer.statusCode ?? 0));
    });
    out.on("error", () => done(0));
  });

/** Everything that the server says to raw bytes, until it closes the connection. */
const raw = (bytes: string): Promise<string> =>
  new Promise((done) => {
    let said = "";
    const socket = connect(opened.page.port, "127.0.0.1", () => socket.write(bytes));
    socket.on("data", (part) => {
      said += part.toString("latin1");
    });
    socket.on("close", () => done(said));
    socket.on("error", () => done(said));
  });

test("review crowd: of 100 connections at once most are answered, the rest are dropped, and the page lives on", async () => {
  const answers = await Promise.all(Array.from({ length: 100 }, () => status(`/${opened.page.token}/state`)));
  expect(answers.filter((code) => code === 200).length).toBeGreaterThanOrEqual(50);
  expect(answers.every((code) => code === 200 || code === 0)).toBe(true);
  expect(await status(`/${opened.page.token}/state`)).toBe(200);
});

test("review crowd: 100 that connect and say nothing, or a byte at a time, do not stop the others once they are gone", async () => {
  const idle: Socket[] = [];
  for (let k = 0; k < 100; k++) {
    const socket = connect(opened.page.port, "127.0.0.1");
    socket.on("error", () => undefined);
    if (k % 2 === 0) socket.write("G");
    idle.push(socket);
  }
  await new Promise((done) => setTimeout(done, 200));
  for (const socket of idle) socket.destroy();
  await expect.poll(() => status(`/${opened.page.token}/state`), { timeout: 20_000 }).toBe(200);
});

test("review crowd: no spelling of a way out leads to a file", async () => {
  const dots = [
    "..",
    "%2e%2e",
    "%2E.",
    ".%2e",
    "%252e%252e",
    "%c0%ae%c0%ae",
    "%e0%80%ae%e0%80%ae",
    "%uff0e%uff0e",
    "\uFF0E\uFF0E",
    "..;",
    "..%00",
    "%2e%2e%20",
  ];
  const slashes = [
    "/",
    "%2f",
    "%2F",
    "%252f",
    "%c0%af",
    "%e0%80%af",
    "\\\\",
    "%5c",
    "%255c",
    "/./",
    "//",
    "%u2215",
  ];
  const { token, port } = opened.page;
  let asked = 0;
  for (const dot of dots)
    for (const slash of slashes)
      for (const end of ["private.txt", "take.tab.txt", "etc/passwd"]) {
        const up = `${dot}${slash}`;
        const path = `/${token}/${up.repeat(end === "etc/passwd" ? 8 : 1)}${end.replaceAll("/", slash)}`;
        const said = await raw(
          `GET ${Buffer.from(path, "utf8").toString("latin1")} HTTP/1.1\r\nHost: 127.0.0.1:${port}\r\nConnection: close\r\n\r\n`,
        );
        expect(said, path).not.toMatch(/secret|root:|HTTP\/1\.1 200/);
        asked++;
      }
  expect(asked).toBe(dots.length * slashes.length * 3);
}, 120_000);

test("review crowd: absolute, empty and malformed targets, doubled hosts and smuggled lengths are refused", async () => {
  const { token, port } = opened.page;
  const host = `Host: 127.0.0.1:${port}\r\n`;
  for (const request of [
    `GET http://evil.example/${token}/state HTTP/1.1\r\n${host}`,
    `GET file:///etc/passwd HTTP/1.1\r\n${host}`,
    `GET * HTTP/1.1\r\n${host}`,
    `GET /${token}/state HTTP/1.1\r\n`, // no host at all
    `GET /${token}/state HTTP/1.1\r\nHost: evil.example\r\n${host}`,
    `POST /${token}/mend HTTP/1.1\r\n${host}Content-Length: 5\r\nTransfer-Encoding: chunked\r\n`,
    `POST /${token}/mend HTTP/1.1\r\n${host}Content-Length: 5\r\nContent-Length: 6\r\n`,
    `POST /${token}/mend HTTP/1.1\r\n${host}Content-Type: application/json\r\nOrigin: http://127.0.0.1:${port}\r\nContent-Length: 99999999999\r\n`,
    `GET /${token}/state\u0000 HTTP/1.1\r\n${host}`,
    `GET /${token}/state HTTP/1.1\r\n${host}X: ${"a".repeat(100_000)}\r\n`,
  ]) {
    const said = await raw(`${request}Connection: close\r\n\r\n`);
    expect(said, request.slice(0, 80)).not.toMatch(/^HTTP\/1\.1 2/);
  }
  expect(await status(`/${token}/state`)).toBe(200);
});

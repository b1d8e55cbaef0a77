/** What the page may ask for. All of it about the one sheet and the one recording of this server. */
import type { ServerResponse } from "node:http";
import { basename, dirname } from "node:path";
import type { FastifyInstance, FastifyReply, FastifyRequest } from "fastify";
import { PulgarError } from "../../src/base/errors.js";
import type { Desk } from "./desk.js";
import { readEdits } from "./read-edit.js";
import type { Recording } from "./recording.js";
import type { PageEvent } from "./view-types.js";

const MOST_STREAMS = 16; // tabs that listen for events at once
const TELL_EVERY_MS = 15_000; // a comment line now and then shows that the server lives

export function addRoutes(app: FastifyInstance, base: string, desk: Desk, recording: Recording): void {
  app.get(`${base}/state`, async () => {
    await desk.look();
    return desk.state();
  });
  app.get(`${base}/heard`, async () => recording.heard());
  app.get(`${base}/peaks`, async (_request, reply) => sendBytes(reply, recording.peaks()));
  app.get<{ Params: { idx: string } }>(`${base}/picture/:idx`, async (request, reply) => {
    const idx = Number(request.params.idx);
    if (!Number.isInteger(idx) || idx < 0 || idx > 10_000)
      throw new PulgarError("bad-usage", "No such part of the picture", "Reload the page.");
    return sendBytes(reply, await recording.tile(idx));
  });
  app.get(`${base}/recording`, async (_request, reply) => {
    if (recording.path === undefined) return reply.code(404).send("No recording.\n");
    // the one file named when the server started, with ranges
    return reply.sendFile(basename(recording.path), dirname(recording.path), {
      dotfiles: "allow",
      cacheControl: false,
    });
  });
  app.get(`${base}/recording.wav`, async (request, reply) =>
    sendRange(request, reply, await recording.wav()),
  );
  app.get(`${base}/events`, (request, reply) => openStream(request, reply, desk));

  app.post<{ Body: unknown }>(`${base}/mend`, async (request, reply) => {
    const { version, edits } = readEdits(request.body);
    return answer(reply, await desk.mend(version, edits));
  });
  for (const [path, act] of [
    ["undo", desk.undo],
    ["redo", desk.redo],
    ["siblings", desk.applyOffer],
  ] as const)
    app.post<{ Body: unknown }>(`${base}/${path}`, async (request, reply) => {
      const version = (request.body as { version?: unknown } | null)?.version;
      if (typeof version !== "string")
        throw new PulgarError("bad-usage", "version: want a text", "Reload the page.");
      return answer(reply, await act(version));
    });
}

const answer = (reply: FastifyReply, { status, state }: Awaited<ReturnType<Desk["undo"]>>): FastifyReply =>
  reply.code(status).send(state);

function sendBytes(reply: FastifyReply, bytes: Uint8Array | undefined): FastifyReply {
  if (!bytes) return reply.code(404).type("text/plain").send("Not there yet.\n");
  return reply
    .type("application/octet-stream")
    .send(Buffer.from(bytes.buffer, bytes.byteOffset, bytes.byteLength));
}

/** Bytes with one range, as a media element asks for them (RFC 9110, section 14). */
function sendRange(
  request: FastifyRequest,
  reply: FastifyReply,
  bytes: Uint8Array | undefined,
): FastifyReply {
  if (!bytes) return reply.code(404).type("text/plain").send("Not there yet.\n");
  const whole = Buffer.from(bytes.buffer, bytes.byteOffset, bytes.byteLength);
  reply.header("accept-ranges", "bytes").type("audio/wav");
  const match = /^bytes=(\d*)-(\d*)$/.exec(request.headers.range ?? "");
  if (!match || (match[1] === "" && match[2] === "")) return reply.send(whole);
  const from = match[1] === "" ? Math.max(0, whole.length - Number(match[2])) : Number(match[1]);
  const to =
    match[1] === "" || match[2] === "" ? whole.length - 1 : Math.min(Number(match[2]), whole.length - 1);
  if (from > to) return reply.code(416).header("content-range", `bytes */${whole.length}`).send();
  return reply
    .code(206)
    .header("content-range", `bytes ${from}-${to}/${whole.length}`)
    .send(whole.subarray(from, to + 1));
}

let streamCount = 0;

/** Server-sent events (HTML standard, section 9.2). A page that does not take them in is let go. */
function openStream(request: FastifyRequest, reply: FastifyReply, desk: Desk): void {
  if (streamCount >= MOST_STREAMS) {
    void reply.code(503).type("text/plain").send("Too many pages are open.\n");
    return;
  }
  streamCount++;
  reply.hijack();
  const out: ServerResponse = reply.raw;
  for (const [name, value] of Object.entries(reply.getHeaders()))
    if (value !== undefined) out.setHeader(name, value);
  out.writeHead(200, { "content-type": "text/event-stream" });
  const write = (text: string): void => {
    if (out.writableLength > 1 << 20) out.destroy();
    else out.write(text);
  };
  write(": here\n\n");
  const stop = desk.subscribe((event: PageEvent) => write(`data: ${JSON.stringify(event)}\n\n`));
  const timer = setInterval(() => write(": here\n\n"), TELL_EVERY_MS);
  timer.unref();
  request.raw.on("close", () => {
    streamCount--;
    clearInterval(timer);
    stop();
  });
}

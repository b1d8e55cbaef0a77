/** The review page's server: one sheet, one recording, one token, 127.0.0.1 only.
 * No path of a request ever becomes a path of a file: the page's own files lie in one folder without anything else, the recording and the sheet
 * are fixed when the server starts. */
import { existsSync } from "node:fs";
import { join } from "node:path";
import fastifyStatic from "@fastify/static";
import Fastify, { type FastifyInstance } from "fastify";
import { PulgarError } from "../../src/base/errors.js";
import type { Desk } from "./desk.js";
import { newToken, refusal, SAFE_HEADERS } from "./guard.js";
import type { Recording } from "./recording.js";
import { addRoutes } from "./routes.js";

const SERVER_LIMITS = Object.freeze({
  bodyBytes: 256 * 1024, // a mend of every bar of a long piece is under 100 kB
  requestMs: 20_000, // a request must have arrived whole by then
  idleMs: 15_000,
  connections: 64,
});

/** Where the built page lies, seen from the sources and from the built program. @throws PulgarError where it was not built */
export function pageFolder(): string {
  const found = [join(import.meta.dirname, "../../page"), join(import.meta.dirname, "../../dist/page")].find(
    (path) => existsSync(join(path, "index.html")),
  );
  if (!found) throw new PulgarError("not-found", "The review page is not built", "Run: npm run build");
  return found;
}

export type OpenPage = { address: string; port: number; token: string; close: () => Promise<void> };

/** Starts serving. @param port 0 for a free one @throws PulgarError "bad-usage" when the port is taken */
export async function servePage(options: {
  desk: Desk;
  recording: Recording;
  pageDir: string;
  port: number;
}): Promise<OpenPage> {
  const token = newToken();
  let boundPort = options.port;
  const app = Fastify({
    bodyLimit: SERVER_LIMITS.bodyBytes,
    requestTimeout: SERVER_LIMITS.requestMs,
    connectionTimeout: 0, // the stream of events stays open; requests are bound by requestTimeout
    keepAliveTimeout: SERVER_LIMITS.idleMs,
    forceCloseConnections: true,
    routerOptions: { maxParamLength: 100 },
  });
  app.server.maxConnections = SERVER_LIMITS.connections;
  app.server.headersTimeout = SERVER_LIMITS.idleMs;
  app.addHook("onRequest", async (request, reply) => {
    reply.headers(SAFE_HEADERS);
    const { host, origin } = request.headers;
    const fetchSite = request.headers["sec-fetch-site"];
    const no = refusal(
      {
        method: request.method,
        url: request.url,
        host,
        origin,
        fetchSite: typeof fetchSite === "string" ? fetchSite : undefined,
        contentType: request.headers["content-type"],
      },
      token,
      boundPort,
    );
    if (no) {
      reply.header("connection", "close");
      await reply.code(no.status).type("text/plain; charset=utf-8").send(`${no.why}\n`);
    }
  });
  answerTroubles(app);
  await app.register(fastifyStatic, {
    root: options.pageDir,
    prefix: `/${token}/`,
    wildcard: false,
    dotfiles: "deny",
    cacheControl: false,
  });
  addRoutes(app, `/${token}`, options.desk, options.recording);
  try {
    await app.listen({ host: "127.0.0.1", port: options.port });
  } catch (e) {
    const code = (e as NodeJS.ErrnoException).code;
    if (code === "EADDRINUSE" || code === "EACCES")
      throw new PulgarError(
        "bad-usage",
        `--port ${options.port}: ${code === "EACCES" ? "not allowed" : "taken by another program"}`,
        "Choose another, or leave --port away for a free one.",
        e,
      );
    throw e;
  }
  const bound = app.server.address();
  boundPort = typeof bound === "object" && bound !== null ? bound.port : options.port;
  return {
    address: `http://127.0.0.1:${boundPort}/${token}/`,
    port: boundPort,
    token,
    close: async () => {
      await options.desk.settled();
      await app.close();
    },
  };
}

/** Errors as JSON: ours with their hint, broken requests with what was wrong, bugs as bugs. */
function answerTroubles(app: FastifyInstance): void {
  app.setErrorHandler(async (error: Error & { statusCode?: number }, _request, reply) => {
    if (error instanceof PulgarError)
      return reply.code(422).send({ error: { code: error.code, message: error.message, hint: error.hint } });
    const status = error.statusCode ?? 500;
    if (status >= 500) console.error(error);
    return reply.code(status).send({
      error: { code: status >= 500 ? "bug" : "bad-usage", message: error.message, hint: "Reload the page." },
    });
  });
  app.setNotFoundHandler(async (_request, reply) =>
    reply.code(404).type("text/plain; charset=utf-8").send("Not here.\n"),
  );
}

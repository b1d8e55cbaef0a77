/** Who may ask: only a page opened with the address we printed, on this machine.
 * A request must name our own host (against names that point here from outside), come from our own origin where it says its origin, and
 * carry the random token as the first part of its path. No cookie: a cookie would go to every other port of this machine too. */
import { randomBytes, timingSafeEqual } from "node:crypto";

/** 192 random bits, safe in an address. */
export const newToken = (): string => randomBytes(24).toString("base64url");

export type Asked = {
  method: string;
  url: string;
  host: string | undefined;
  origin: string | undefined;
  fetchSite: string | undefined;
  contentType: string | undefined;
};

/** Why a request is refused: status and reason; undefined when it may pass. */
export function refusal(
  asked: Asked,
  token: string,
  port: number,
): { status: number; why: string } | undefined {
  const hosts = [`127.0.0.1:${port}`, `localhost:${port}`];
  if (asked.host === undefined || !hosts.includes(asked.host))
    return { status: 421, why: "This address is not ours." };
  const origins = hosts.map((host) => `http://${host}`);
  if (asked.origin !== undefined && !origins.includes(asked.origin))
    return { status: 403, why: "Requests from another page are refused." };
  if (asked.fetchSite !== undefined && asked.fetchSite !== "same-origin" && asked.fetchSite !== "none")
    return { status: 403, why: "Requests from another page are refused." };
  const first = asked.url.split(/[/?#]/, 2)[1] ?? "";
  if (!sameText(first, token))
    return { status: 403, why: "The token is missing or old: open the address that pulgar printed." };
  if (asked.method === "GET" || asked.method === "HEAD") return undefined;
  if (asked.method !== "POST") return { status: 405, why: "GET and POST only." };
  if (asked.origin === undefined) return { status: 403, why: "A change must say its origin." };
  if (!/^application\/json\b/.test(asked.contentType ?? "")) return { status: 415, why: "JSON only." };
  return undefined;
}

/** Compares in a time that does not tell how much was right. */
function sameText(a: string, b: string): boolean {
  const [x, y] = [Buffer.from(a), Buffer.from(b)];
  return x.length === y.length && timingSafeEqual(x, y);
}

/** Sent with every answer: nothing from elsewhere, no framing, no guessing of types. */
export const SAFE_HEADERS: Readonly<Record<string, string>> = {
  "content-security-policy": [
    "default-src 'none'",
    "script-src 'self'",
    "style-src 'self'",
    "img-src 'self' data:",
    "media-src 'self'",
    "connect-src 'self'",
    "base-uri 'none'",
    "form-action 'none'",
    "frame-ancestors 'none'",
  ].join("; "),
  "x-content-type-options": "nosniff",
  "referrer-policy": "no-referrer",
  "cross-origin-opener-policy": "same-origin",
  "cross-origin-resource-policy": "same-origin",
  "permissions-policy": "camera=(), microphone=(), geolocation=()",
  "cache-control": "no-store",
};

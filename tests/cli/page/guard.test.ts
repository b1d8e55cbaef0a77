import { expect, test } from "vitest";
import { newToken, refusal } from "../../../cli/page/guard.js";

const TOKEN = "a".repeat(32);
const asked = (change: Partial<Parameters<typeof refusal>[0]> = {}): Parameters<typeof refusal>[0] => ({
  method: "POST",
  url: `/${TOKEN}/mend`,
  host: "127.0.0.1:4000",
  origin: "http://127.0.0.1:4000",
  fetchSite: "same-origin",
  contentType: "application/json",
  ...change,
});

// Sources: Host RFC 9110 section 7.2, Origin RFC 6454 section 7, Sec-Fetch-Site W3C Fetch Metadata; expected statuses by hand.
for (const [change, status] of [
  [{}, undefined],
  [{ method: "GET", origin: undefined, fetchSite: undefined, contentType: undefined }, undefined],
  [{ host: "localhost:4000", origin: "http://localhost:4000" }, undefined],
  [{ host: undefined }, 421],
  [{ host: "127.0.0.1:4001" }, 421],
  [{ host: "rebound.example:4000" }, 421],
  [{ origin: "http://rebound.example:4000" }, 403],
  [{ origin: undefined }, 403],
  [{ fetchSite: "cross-site" }, 403],
  [{ url: "/mend" }, 403],
  [{ url: `/${TOKEN.slice(1)}/mend` }, 403],
  [{ url: `/x/${TOKEN}/mend` }, 403],
  [{ url: `/?${TOKEN}` }, 403],
  [{ method: "PUT" }, 405],
  [{ contentType: "text/plain" }, 415],
  [{ contentType: undefined }, 415],
] as const)
  test(`guard: ${JSON.stringify(change, (_, v) => v ?? "absent")} → ${status ?? "may pass"}`, () => {
    expect(refusal(asked(change as Parameters<typeof asked>[0]), TOKEN, 4000)?.status).toBe(status);
  });

test("guard: tokens are 24 random bytes in an address's letters", () => {
  const tokens = new Set(Array.from({ length: 200 }, newToken));
  expect(tokens.size).toBe(200);
  for (const token of tokens) expect(token).toMatch(/^[A-Za-z0-9_-]{32}$/);
});

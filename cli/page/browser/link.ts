/** The line to the server. All addresses are relative: the token is part of the page's own address. */
import type { Edit } from "../../../src/sheet/edit.js";
import type { HeardNote, PageEvent, PageState } from "../view-types.js";

/** An answer: the new state, or words for the user (with the state where there is one). */
export type Answer =
  | { kind: "done"; state: PageState }
  | { kind: "behind"; state: PageState }
  | { kind: "refused"; message: string; hint: string }
  | { kind: "gone" };

async function post(path: string, body: object): Promise<Answer> {
  let reply: Response;
  try {
    reply = await fetch(`./${path}`, {
      method: "POST",
      headers: { "content-type": "application/json" },
      body: JSON.stringify(body),
    });
  } catch {
    return { kind: "gone" };
  }
  if (reply.status === 200) return { kind: "done", state: (await reply.json()) as PageState };
  if (reply.status === 409) return { kind: "behind", state: (await reply.json()) as PageState };
  const text = await reply.text();
  try {
    const { error } = JSON.parse(text) as { error: { message: string; hint: string } };
    return { kind: "refused", message: error.message, hint: error.hint };
  } catch {
    return { kind: "refused", message: text.trim(), hint: "" };
  }
}

export const sendMend = (version: string, edits: readonly Edit[]): Promise<Answer> =>
  post("mend", { version, edits });
export const sendUndo = (version: string): Promise<Answer> => post("undo", { version });
export const sendRedo = (version: string): Promise<Answer> => post("redo", { version });
export const sendSiblings = (version: string): Promise<Answer> => post("siblings", { version });

export async function loadState(): Promise<PageState> {
  const reply = await fetch("./state");
  if (!reply.ok) throw new Error(await reply.text());
  return (await reply.json()) as PageState;
}

export async function loadHeard(): Promise<HeardNote[]> {
  const reply = await fetch("./heard");
  return reply.ok ? ((await reply.json()) as HeardNote[]) : [];
}

export async function loadBytes(path: string): Promise<Uint8Array | undefined> {
  const reply = await fetch(`./${path}`).catch(() => undefined);
  return reply?.ok ? new Uint8Array(await reply.arrayBuffer()) : undefined;
}

/** Listens to the server. `onLost` when it does not answer, `onBack` when it does again. */
export function listenTo(onEvent: (event: PageEvent) => void, onLost: () => void, onBack: () => void): void {
  const stream = new EventSource("./events");
  let isLost = false;
  stream.addEventListener("message", (message) => onEvent(JSON.parse(String(message.data)) as PageEvent));
  stream.addEventListener("error", () => {
    isLost = true;
    onLost();
  });
  stream.addEventListener("open", () => {
    if (isLost) onBack();
    isLost = false;
  });
}

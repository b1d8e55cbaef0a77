/** The desk: one sheet under review, its versions, and what follows each mend.
 * Every mend is saved before it is answered. One thing at a time: mends queue, so two tabs never interleave. */
import { randomBytes } from "node:crypto";
import { PulgarError } from "../../src/base/errors.js";
import type { CheckReport } from "../../src/check/report.js";
import type { Listening } from "../../src/notes/played-note.js";
import type { Edit } from "../../src/sheet/edit.js";
import type { Sheet } from "../../src/sheet/sheet.js";
import { barsTouched, barsWords, editWords, movesHand } from "./edit-words.js";
import type { History } from "./history.js";
import { type Recording, wordsOf } from "./recording.js";
import type { Keeper } from "./sheet-files.js";
import { pageCheck, pageSheet } from "./view.js";
import type { PageCheck, PageEvent, PageState, SiblingOffer } from "./view-types.js";

/** The music's side of a mend, handed in. */
export type MusicDeps = {
  applyEdit: (sheet: Sheet, edit: Edit) => Sheet;
  siblingEdits: (sheet: Sheet, edit: Edit) => Edit[];
  /** Decides again what the machine wrote in these bars. */
  redecide: (sheet: Sheet, bars: readonly number[], listening: Listening | undefined) => Sheet;
  check: (sheet: Sheet, listening: Listening) => Promise<CheckReport>;
};

/** Answer to a request to change: the state, or that the page was behind. */
type Reply = { status: 200 | 409; state: PageState };

export type Desk = {
  state: () => PageState;
  mend: (baseVersion: string, edits: readonly Edit[]) => Promise<Reply>;
  undo: (baseVersion: string) => Promise<Reply>;
  redo: (baseVersion: string) => Promise<Reply>;
  applyOffer: (baseVersion: string) => Promise<Reply>;
  /** Looks whether the files were changed by somebody else. */
  look: () => Promise<void>;
  /** Runs the check again over the sheet as it stands. */
  recheck: () => void;
  /** Tells every page where the recording stands. */
  tellTake: () => void;
  /** Tells every page of trouble that no request caused. */
  trouble: (e: unknown) => void;
  subscribe: (tell: (event: PageEvent) => void) => () => void;
  /** Ends when all that was asked is saved. */
  settled: () => Promise<void>;
};

const CHECK_WAIT_MS = 150; // several mends in a row are checked once

export function openDesk(
  first: Sheet,
  keeper: Keeper,
  recording: Recording,
  music: MusicDeps,
  history: History,
): Desk {
  const run = randomBytes(4).toString("hex"); // versions of another run never match
  let count = 0;
  let sheet = first;
  let notice: string | null = null;
  let offer: (SiblingOffer & { edits: Edit[] }) | null = null;
  let check: PageCheck = { kind: "none", why: "Not checked yet." };
  let checkTimer: NodeJS.Timeout | undefined;
  let isChecking = false;
  const listeners = new Set<(event: PageEvent) => void>();
  let queue: Promise<unknown> = Promise.resolve();

  const tellAll = (event: PageEvent): void => {
    for (const tell of listeners) tell(event);
  };
  const version = (): string => `${run}-${count}`;
  const inTurn = <T>(work: () => Promise<T>): Promise<T> => {
    const mine = queue.then(work);
    queue = mine.catch(() => undefined);
    return mine;
  };

  function state(): PageState {
    return {
      version: version(),
      sheet: pageSheet(sheet, recording.durationSec()),
      check,
      take: recording.state(),
      undo: history.undo(),
      redo: history.redo(),
      undoCount: history.undoCount(),
      redoCount: history.redoCount(),
      files: keeper.files,
      notice,
      offer: offer ? { text: offer.text, bars: offer.bars } : null,
    };
  }

  /** Makes `next` the sheet: saved first, told to every page after. */
  async function put(next: Sheet, why: string): Promise<void> {
    if (!(await keeper.save(next))) {
      await takeOutside();
      throw new PulgarError(
        "bad-sheet",
        "The file was changed outside while you mended; it is shown as it is now and the mend was not made",
        "Look at it and mend again. Undo brings back what you had.",
      );
    }
    sheet = next;
    count++;
    tellAll({ kind: "changed", version: version(), why });
    recheckSoon();
  }

  async function takeOutside(): Promise<void> {
    const outside = await keeper.changedOutside();
    if (!outside) return;
    await history.record("the change made outside", outside);
    offer = null;
    sheet = outside;
    count++;
    notice =
      "The file was changed outside this page. What you see is the file as it is now; undo brings back what was here.";
    tellAll({ kind: "changed", version: version(), why: notice });
    recheckSoon();
  }

  function recheckSoon(): void {
    clearTimeout(checkTimer);
    checkTimer = setTimeout(() => void recheck(), CHECK_WAIT_MS);
    checkTimer.unref();
  }

  /** One check at a time; what was mended meanwhile is checked after it. */
  async function recheck(): Promise<void> {
    const listening = recording.listening();
    if (isChecking) return;
    isChecking = true;
    const [of, ofVersion] = [sheet, version()];
    try {
      check = listening
        ? pageCheck(await music.check(of, listening), of, ofVersion)
        : { kind: "none", why: whyUnchecked() };
    } catch (e) {
      if (!(e instanceof PulgarError)) console.error(e);
      check = { kind: "none", why: wordsOf(e) };
    }
    isChecking = false;
    tellAll({ kind: "check", check, version: version() });
    if (version() !== ofVersion) recheckSoon();
  }

  function whyUnchecked(): string {
    const take = recording.state();
    if (take.kind === "none") return take.why;
    return take.kind === "ready" && take.listening.kind === "none"
      ? take.listening.why
      : "The recording is being listened to.";
  }

  const behind = (baseVersion: string): Reply | undefined => {
    if (baseVersion === version()) return undefined;
    notice =
      "The sheet had changed elsewhere (another tab or an editor). It is shown as it is now; your last mend was not made.";
    return { status: 409, state: state() };
  };

  /** One or several edits as one step, with the machine's own notes of those bars decided again. */
  async function step(edits: readonly Edit[], label: string): Promise<void> {
    let next = sheet;
    for (const edit of edits) next = music.applyEdit(next, edit);
    const bars = [...new Set(edits.filter(movesHand).flatMap(barsTouched))].sort((a, b) => a - b);
    if (bars.length > 0) next = music.redecide(next, bars, recording.listening());
    await put(next, label);
    await history.record(label, next);
  }

  return {
    state,
    mend: (baseVersion, edits) =>
      inTurn(async () => {
        await takeOutside();
        const late = behind(baseVersion);
        if (late) return late;
        const before = sheet;
        notice = null;
        offer = null;
        await step(edits, edits.map(editWords).join(", "));
        offer = edits.length === 1 && edits[0] ? offerOf(before, edits[0]) : null;
        return { status: 200, state: state() };
      }),
    undo: (baseVersion) => move(baseVersion, "undo"),
    redo: (baseVersion) => move(baseVersion, "redo"),
    applyOffer: (baseVersion) =>
      inTurn(async () => {
        const late = behind(baseVersion);
        if (late) return late;
        if (!offer) throw new PulgarError("bad-usage", "There is nothing to repeat", "Mend a note first.");
        const { edits, bars } = offer;
        offer = null;
        await step(edits, `the same in ${barsWords(bars)}`);
        notice = `Done in ${barsWords(bars)} too.`;
        return { status: 200, state: state() };
      }),
    look: () => inTurn(takeOutside),
    recheck: () => void recheck(),
    tellTake() {
      tellAll({ kind: "take", take: recording.state() });
      if (recording.listening()) tellAll({ kind: "heard" });
    },
    trouble(e) {
      if (!(e instanceof PulgarError)) console.error(e);
      tellAll({
        kind: "trouble",
        message: e instanceof Error ? e.message : String(e),
        hint: e instanceof PulgarError ? e.hint : "Look at the window where pulgar runs.",
      });
    },
    subscribe(tell) {
      listeners.add(tell);
      return () => listeners.delete(tell);
    },
    settled: async () => void (await queue),
  };

  function move(baseVersion: string, way: "undo" | "redo"): Promise<Reply> {
    return inTurn(async () => {
      await takeOutside();
      const late = behind(baseVersion);
      if (late) return late;
      notice = null;
      offer = null;
      const label = history[way]();
      const next = history.peek(way);
      if (!next) throw new PulgarError("bad-usage", `Nothing to ${way}`, "This is where the review began.");
      await put(next, `${way}: ${label}`);
      await history.moved(way);
      return { status: 200, state: state() };
    });
  }

  /** The same mend in the bars that are the same music, where it would change anything. */
  function offerOf(before: Sheet, edit: Edit): (SiblingOffer & { edits: Edit[] }) | null {
    const edits = music.siblingEdits(before, edit);
    if (edits.length === 0) return null;
    const bars = [...new Set(edits.flatMap(barsTouched))].sort((a, b) => a - b);
    return {
      edits,
      bars,
      text: `The same in ${barsWords(bars)}? (${editWords(edit)})`,
    };
  }
}

/** Mouse, pen and finger: a click sets the caret, dragging a note moves it (a finger rests on it first), dragging elsewhere scrolls,
 * the wheel scrolls, two fingers zoom. */
import type { Desk } from "./actions.js";
import { byId } from "./dom.js";
import { refOf } from "./mends.js";
import { caretSec, placeAtSec } from "./model.js";
import { LANE, lineY } from "./tab-lane.js";

const STILL_PX = 5; // a press that moves less than this is a click
const REST_MS = 350; // a finger that rests this long on a note takes it along; one that moves on scrolls

export function listenToPointer(desk: Desk, scrollTo: (leftSec: number) => void): void {
  const { model, mends, player } = desk;
  const view = byId("view");
  const lane = byId("lane");
  let drag:
    | { kind: "note"; id: string; x: number; y: number; node: HTMLElement; isHeld: boolean }
    | { kind: "scroll"; x: number; leftSec: number; moved: boolean }
    | { kind: "select"; x: number }
    | undefined;
  let restTimer: number | undefined;
  const fingers = new Map<number, number>(); // x of each finger that is down
  let spreadPx = 0; // between two fingers

  const secAtX = (clientX: number): number =>
    model.leftSec + (clientX - view.getBoundingClientRect().left) / model.pxPerSec;
  const stringAtY = (clientY: number): number => {
    const y = clientY - lane.getBoundingClientRect().top;
    return Math.max(1, Math.min(6, Math.round((y - lineY(1)) / LANE.linePx) + 1));
  };
  const caretTo = (clientX: number, clientY: number): void => {
    const place = placeAtSec(model, secAtX(clientX), model.stepTicks);
    const onLane = clientY >= lane.getBoundingClientRect().top;
    model.caret = { ...place, string: onLane ? stringAtY(clientY) : model.caret.string };
    if (!model.isPlaying) player.seek(onLane ? caretSec(model) : secAtX(clientX));
    else if (!onLane) player.seek(secAtX(clientX));
    desk.changed();
  };

  const spread = (): number => {
    const [one = 0, two = 0] = [...fingers.values()];
    return Math.max(20, Math.abs(one - two));
  };

  view.addEventListener("pointerdown", (event) => {
    if (event.button !== 0) return;
    if (event.pointerType === "touch") fingers.set(event.pointerId, event.clientX);
    if (fingers.size === 2) {
      clearTimeout(restTimer);
      drag = undefined;
      spreadPx = spread();
      return;
    }
    const target = event.target as HTMLElement;
    const note = target.closest<HTMLElement>("[data-id]");
    const chord = target.closest<HTMLElement>("[data-chord]");
    lane.focus({ preventScroll: true });
    event.preventDefault();
    if (chord) return; // opened by the click: a form that came up under the finger would be hit by it
    view.setPointerCapture(event.pointerId);
    if (note) {
      const id = note.dataset.id ?? "";
      const found = model.state.sheet.notes.find((n) => n.id === id);
      if (!found) return;
      model.anchorSec = undefined;
      model.caret = { bar: found.bar, tick: found.tick, string: found.string };
      if (!model.isPlaying) player.seek(found.startSec);
      const held = {
        kind: "note" as const,
        id,
        x: event.clientX,
        y: event.clientY,
        node: note,
        isHeld: event.pointerType !== "touch",
      };
      drag = held;
      if (!held.isHeld)
        restTimer = window.setTimeout(() => {
          held.isHeld = true;
          held.node.classList.add("dragged");
        }, REST_MS);
      desk.changed();
    } else if (event.shiftKey) {
      model.anchorSec ??= caretSec(model);
      caretTo(event.clientX, event.clientY);
      drag = { kind: "select", x: event.clientX };
    } else {
      model.anchorSec = undefined;
      drag = { kind: "scroll", x: event.clientX, leftSec: model.leftSec, moved: false };
    }
  });

  view.addEventListener("click", (event) => {
    const chord = (event.target as HTMLElement).closest<HTMLElement>("[data-chord]");
    if (!chord) return;
    const [bar = 1, beat = 1] = (chord.dataset.chord ?? "").split(":").map(Number);
    model.caret = { ...model.caret, bar, tick: Math.round((beat - 1) * 24) };
    desk.changed();
    desk.openChord();
  });

  view.addEventListener("pointermove", (event) => {
    if (fingers.has(event.pointerId)) fingers.set(event.pointerId, event.clientX);
    if (fingers.size === 2) {
      const now = spread();
      desk.zoom(now / spreadPx);
      spreadPx = now;
      return;
    }
    if (drag?.kind === "note" && !drag.isHeld && Math.abs(event.clientX - drag.x) > STILL_PX) {
      clearTimeout(restTimer);
      drag = { kind: "scroll", x: drag.x, leftSec: model.leftSec, moved: true };
    }
    if (!drag) return;
    if (drag.kind === "note") {
      if (!drag.isHeld) return;
      const [dx, dy] = [event.clientX - drag.x, event.clientY - drag.y];
      drag.node.classList.add("dragged");
      drag.node.style.translate = `${dx}px ${Math.round(dy / LANE.linePx) * LANE.linePx}px`;
    } else if (drag.kind === "select") caretTo(event.clientX, event.clientY);
    else if (drag.moved || Math.abs(event.clientX - drag.x) > STILL_PX) {
      drag.moved = true;
      scrollTo(drag.leftSec - (event.clientX - drag.x) / model.pxPerSec);
    }
  });

  const end = (event: PointerEvent): void => {
    clearTimeout(restTimer);
    fingers.delete(event.pointerId);
    const was = drag;
    drag = undefined;
    if (!was) return;
    if (was.kind === "scroll" && !was.moved) caretTo(event.clientX, event.clientY);
    if (was.kind !== "note") return;
    was.node.classList.remove("dragged");
    was.node.style.translate = "";
    const note = model.state.sheet.notes.find((n) => n.id === was.id);
    if (!note || !was.isHeld || event.type === "pointercancel") return;
    const [dx, dy] = [event.clientX - was.x, event.clientY - was.y];
    const string = Math.max(1, Math.min(6, note.string + Math.round(dy / LANE.linePx)));
    if (Math.abs(dy) > LANE.linePx / 2 && Math.abs(dy) >= Math.abs(dx)) {
      if (string !== note.string)
        void mends.mend([{ kind: "move-string", at: refOf(note), string }], { ...model.caret, string });
    } else if (Math.abs(dx) > STILL_PX) {
      const place = placeAtSec(model, note.startSec + dx / model.pxPerSec, model.stepTicks);
      if (place.bar !== note.bar || place.tick !== note.tick)
        void mends.mend([{ kind: "move-place", at: refOf(note), ...place }], {
          ...place,
          string: note.string,
        });
    }
  };
  view.addEventListener("pointerup", end);
  view.addEventListener("pointercancel", end);

  view.addEventListener(
    "wheel",
    (event) => {
      event.preventDefault();
      if (event.ctrlKey) desk.zoom(event.deltaY < 0 ? 1.15 : 1 / 1.15);
      else
        scrollTo(
          model.leftSec +
            (Math.abs(event.deltaX) > Math.abs(event.deltaY) ? event.deltaX : event.deltaY) / model.pxPerSec,
        );
    },
    { passive: false },
  );
}

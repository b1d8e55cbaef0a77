/** The review page: fetches the sheet, draws it, listens to keys, pointer and server. */
import { noteName } from "../../../src/theory/pitch.js";
import { type Action, type Desk, keyName, leftFor, makeActions, zoomTo } from "./actions.js";
import { byId, el, fit } from "./dom.js";
import { makeForms } from "./forms.js";
import { showKeys } from "./keys-list.js";
import { listenTo, loadBytes, loadHeard, loadState } from "./link.js";
import { adopt, type Mends, makeMends } from "./mends.js";
import { beatWords, caretSec, type Model, noteAtCaret, noteWords, selected } from "./model.js";
import { makeOverview } from "./overview.js";
import { makePanel } from "./panel.js";
import { makePictureLane } from "./picture-lane.js";
import { makePlayer } from "./player.js";
import { listenToPointer } from "./pointer.js";
import { LANE, lineY, makeTabLane, sizeLane } from "./tab-lane.js";
import { makeTransport } from "./transport.js";

const FOLLOW_SHARE = 0.35; // the cursor stands at this share of the view while it plays

async function start(): Promise<void> {
  const [state, heard] = await Promise.all([loadState(), loadHeard()]);
  const first = state.sheet.bars[0];
  const model: Model = {
    state,
    heard,
    peaks: undefined,
    caret: { bar: first?.bar ?? 1, tick: 0, string: state.sheet.notes[0]?.string ?? 1 },
    anchorSec: undefined,
    loop: undefined,
    stepTicks: 12,
    pxPerSec: 110,
    leftSec: Math.max(-0.3, (first?.startSec ?? 0) - 0.3),
    viewPx: 1000,
    playSec: first?.startSec ?? 0,
    isPlaying: false,
    sound: state.take.kind === "none" ? "sheet" : "recording",
    speed: 1,
    showsDoubtful: false,
    isGone: false,
  };
  const view = byId("view");
  const lane = byId("lane");
  const canvas = byId<HTMLCanvasElement>("picture");
  const cursors = [...document.querySelectorAll<HTMLElement>(".cursor")];
  const spans = [...document.querySelectorAll<HTMLElement>(".span")];
  let isAsked = false;
  const changed = (): void => {
    if (isAsked) return;
    isAsked = true;
    requestAnimationFrame(draw);
  };
  const tell = { say: (words: string) => say(words), warn: (words: string) => warn(words) };
  const mends = makeMends(model, tell, changed);
  const player = makePlayer(model, changed, tell.warn);
  const forms = makeForms(model, mends, player.nowSec);
  const scrollTo = (leftSec: number): void => {
    const most = Math.max(-0.3, model.state.sheet.durationSec - (0.5 * model.viewPx) / model.pxPerSec);
    model.leftSec = Math.max(-0.3, Math.min(most, leftSec));
    changed();
  };
  const desk: Desk = {
    model,
    mends,
    player,
    tell,
    changed,
    ...forms,
    show() {
      const x = (caretSec(model) - model.leftSec) * model.pxPerSec;
      if (x < 0.1 * model.viewPx || x > 0.85 * model.viewPx)
        scrollTo(leftFor(model, caretSec(model), FOLLOW_SHARE));
    },
    toggleKeys() {
      const isShown = keysAreShown();
      document.body.classList.toggle("keys-shown", !isShown);
      document.body.classList.toggle("keys-hidden", isShown);
      measure();
    },
    toggleFilm() {
      document.body.classList.toggle("film-large");
      measure();
    },
    zoom(factor) {
      const centre = model.isPlaying ? model.playSec : caretSec(model);
      const share = Math.max(0, Math.min(1, ((centre - model.leftSec) * model.pxPerSec) / model.viewPx));
      model.pxPerSec = zoomTo(model.pxPerSec * factor);
      scrollTo(leftFor(model, centre, share));
    },
  };
  const actions = makeActions(desk);
  const run = makeRunner(mends);
  showKeys(actions, (action) => run(action, "", performance.now()));
  for (const id of ["lane", "keys"]) byId(id).tabIndex = 0; // both take arrow keys
  const picture = makePictureLane(model, changed);
  const tab = makeTabLane(model);
  const runById = (id: string, key = ""): void => {
    const action = actions.find((a) => a.id === id);
    if (action) run(action, key, performance.now());
  };
  const panel = makePanel(desk, runById, player.media);
  const transport = makeTransport(desk, runById);
  const overview = makeOverview(model, (sec) => {
    scrollTo(leftFor(model, sec, 0.5));
  });
  listenToKeys(actions, run);
  listenToPointer(desk, scrollTo);
  let lastWords = "";

  function draw(): void {
    isAsked = false;
    if (model.isPlaying) {
      model.playSec = player.nowSec();
      follow();
      changed();
    }
    const width = model.viewPx;
    const height = view.clientHeight - LANE.heightPx;
    const isWhole = picture.draw(fit(canvas, width, Math.max(60, height)), width, Math.max(60, height));
    byId("stage").toggleAttribute("data-pictured", isWhole);
    tab.draw(width);
    const x = (sec: number): number => (sec - model.leftSec) * model.pxPerSec;
    for (const node of cursors) place(node, x(model.playSec), undefined);
    const caret = byId("caret");
    const at = `${model.caret.bar}:${model.caret.tick}:${model.caret.string}`;
    if (lane.dataset.caret !== at) lane.dataset.caret = at;
    caret.style.transform = `translate(${x(caretSec(model)) - 11}px, ${lineY(model.caret.string) - 11}px)`;
    const chosen = selected(model) ?? model.loop;
    for (const span of spans) {
      span.hidden = !chosen;
      span.classList.toggle("loop", model.loop !== undefined);
      if (chosen) place(span, x(chosen.fromSec), (chosen.toSec - chosen.fromSec) * model.pxPerSec);
    }
    overview.draw();
    transport.draw();
    panel.draw();
    const note = noteAtCaret(model);
    const words = `Bar ${model.caret.bar}, ${beatWords(model.caret.tick)}: ${note ? noteWords(note) : `string ${model.caret.string}, no note`}`;
    if (words !== lastWords && !model.isPlaying) {
      lastWords = words;
      say(words);
    }
  }

  function follow(): void {
    const x = (model.playSec - model.leftSec) * model.pxPerSec;
    const wanted = FOLLOW_SHARE * model.viewPx;
    if (x < 0 || x > model.viewPx) scrollTo(leftFor(model, model.playSec, FOLLOW_SHARE));
    else if (x > wanted)
      scrollTo(model.leftSec + Math.min((x - wanted) / model.pxPerSec, 0.06 + (x - wanted) * 0.002));
  }

  function measure(): void {
    model.viewPx = view.clientWidth;
    drawGutter(model, picture.pitchMarks(Math.max(60, view.clientHeight - LANE.heightPx)));
    changed();
  }

  new ResizeObserver(measure).observe(view);
  listenTo(
    (event) => {
      if (event.kind === "changed") {
        if (event.version !== model.state.version)
          void mends.settled().then(async () => {
            if (event.version === model.state.version) return;
            await mends.refresh();
            if (model.state.notice) warn(model.state.notice);
          });
      } else if (event.kind === "check") model.state = { ...model.state, check: event.check };
      else if (event.kind === "take") takeUp(event.take);
      else if (event.kind === "heard")
        void loadHeard().then((heard) => {
          model.heard = heard;
          changed();
        });
      else warn(`${event.message}. ${event.hint}`);
      changed();
    },
    () => {
      if (!model.isGone)
        warn(
          "The program does not answer. Everything up to here is saved; start pulgar review again if it has ended.",
        );
      model.isGone = true;
      changed();
    },
    () => {
      model.isGone = false;
      warn("Connected again.");
      void mends.refresh();
    },
  );

  function takeUp(take: Model["state"]["take"]): void {
    const wasReady = model.state.take.kind === "ready" && model.peaks !== undefined;
    model.state = { ...model.state, take };
    if (take.kind === "ready") {
      player.setTake();
      if (!wasReady) {
        void loadBytes("peaks").then((peaks) => {
          model.peaks = peaks;
          changed();
        });
        void mends.refresh();
      }
      byId("stage").dataset.listening = take.listening.kind;
    } else if (take.kind === "none" && model.sound === "recording") {
      model.sound = "sheet";
      player.setSound();
    }
  }

  takeUp(state.take);
  adopt(model, model.state);
  sizeLane();
  measure();
  document.body.classList.add("ready");
  byId("lane").focus();
  if (state.notice) warn(state.notice);
}

function place(node: HTMLElement, x: number, width: number | undefined): void {
  node.style.transform = `translateX(${x}px)`;
  if (width !== undefined) node.style.width = `${width}px`;
}

const keysAreShown = (): boolean => byId("keys").getClientRects().length > 0;

type Run = (action: Action, key: string, whenMs: number) => void;

/** Runs actions. What moves the caret or mends waits until the mends before it are answered, so that fast typing keeps its order. */
function makeRunner(mends: Mends): Run {
  let queue: Promise<void> = Promise.resolve();
  let waiting = 0;
  return (action, key, whenMs) => {
    const isFree = action.group === "Listen" || action.group === "Look";
    if (isFree || (waiting === 0 && !mends.isBusy())) {
      action.run(key, whenMs);
      return;
    }
    waiting++;
    document.body.classList.add("saving");
    queue = queue
      .then(() => mends.settled())
      .then(() => {
        waiting--;
        action.run(key, whenMs);
        document.body.classList.toggle("saving", waiting > 0 || mends.isBusy());
      });
  };
}

function listenToKeys(actions: readonly Action[], run: Run): void {
  const byKey = new Map<string, Action>();
  for (const action of actions) for (const key of action.keys) byKey.set(key, action);
  document.addEventListener("keydown", (event) => {
    const target = event.target as HTMLElement;
    if (document.querySelector("dialog[open]")) return;
    const isField = target.matches("input, select, textarea");
    if (isField && event.key === "Escape") {
      byId("lane").focus();
      return;
    }
    if (isField && !(event.ctrlKey && /^[zy]$/i.test(event.key))) return;
    const name = keyName(event);
    if (target.matches("button") && (name === "Space" || name === "Enter")) return;
    const action = byKey.get(name);
    if (!action) return;
    event.preventDefault();
    run(action, /Digit/.test(name) ? name : event.key.toLowerCase(), event.timeStamp);
  });
}

/** Names at the side: pitches of the picture, strings of the sheet. */
function drawGutter(model: Model, pitches: readonly { midi: number; y: number }[]): void {
  const gutter = byId("gutter");
  gutter.replaceChildren();
  for (const [k, name] of model.state.sheet.stringNames.entries()) {
    const label = el("span", {}, name);
    label.style.bottom = `${LANE.heightPx - lineY(k + 1) - 9}px`;
    gutter.append(label);
  }
  for (const { midi, y } of pitches) {
    const label = el("span", { class: "pitch" }, noteName(midi));
    label.style.top = `${y - 9}px`;
    gutter.append(label);
  }
}

function say(words: string): void {
  byId("where").textContent = words;
}

/** A word that stays until it is dismissed or replaced. */
function warn(words: string): void {
  const home = byId("notices");
  home.replaceChildren(
    el(
      "p",
      {},
      words,
      " ",
      el("button", { type: "button", onClick: () => home.replaceChildren() }, "Understood"),
    ),
  );
}

start().catch((e: unknown) =>
  warn(`The page could not start: ${e instanceof Error ? e.message : String(e)}`),
);

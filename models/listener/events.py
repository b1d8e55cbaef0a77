"""Generated playing: what a fingerstyle guitarist might do in a clip, string by string, as numbers for the renderer.

Pure CPU, plain `random.Random`, one call a clip (about 2 ms), so that worker processes can run far ahead of the GPU.
Times are samples at 22050 Hz from the start of the clip; notes begun before the clip keep ringing into it.
"""

import math
import random

import numpy as np

from patterns import TUNINGS, choose, make_pattern, make_shape

RATE_HZ = 22050
LOWEST_MIDI, HIGHEST_MIDI = 36, 88
ENV_HOP = 441  # 20 ms: step of the banks' level envelopes
AUDIBLE_DB = -40.0  # a dying note counts as ended here, relative to its loudest 20 ms

EVENT_FIELDS = ("clip", "src", "onset", "stop", "fade", "ratio", "gain", "skip", "fadein", "comb_delay", "comb_depth", "dark", "decay", "beat", "beat_rate", "beat_phase", "pair", "pair_shift")
LABEL_FIELDS = ("clip", "pitch", "onset", "offset", "string", "plucked")


class BankIndex:
    """What the player must know of the bank: which recorded notes can stand for a fret of a string, and how long they sound."""

    def __init__(self, midi, cents, string, guitar, env_db, group, length, guitars):
        self.midi, self.cents, self.string = midi, cents, string
        self.guitar, self.env_db, self.length = guitar, env_db, length
        self.guitars = guitars  # list of (name, group); groups: "acoustic", "electric", "synth"
        self.group = group
        self.of_guitar = [np.flatnonzero(guitar == g) for g in range(len(guitars))]
        self.cache = {}
        self.every_string = True  # strings are labelled for every guitar, or only where the recordings name them
        self.rich = False  # with hard negatives: what rings and beats, sympathetic strings, octaves that are no notes
        self.distractors = None  # indices of sounds that are no notes, by kind

    def candidates(self, guitar, midi, string):
        """Indices of notes of this guitar within reach of the pitch; right string where strings are known."""
        key = (guitar, midi, string)
        found = self.cache.get(key)
        if found is None:
            idx = self.of_guitar[guitar]
            dist = np.abs(self.midi[idx] + self.cents[idx] / 100 - midi)
            known = self.string[idx]
            if known.max() > 0:
                dist = dist + np.where(known == string, 0, 20.0)
            nearest = dist.min()
            found = idx[dist <= max(nearest + 0.6, min(nearest + 2.2, 2.4))].tolist()
            self.cache[key] = found
        return found


class Player:
    """State of six strings while a clip is generated."""

    def __init__(self, rng, bank, clip_idx, clip_len, guitar, cents, open_midi):
        self.rng, self.bank, self.clip, self.len = rng, bank, clip_idx, clip_len
        self.guitar = guitar
        self.group = bank.guitars[guitar][1]
        self.events, self.labels = [], []
        self.sounding = [None] * 6  # [event row, label row] by string 0..5 = 6..1
        self.open_midi = open_midi
        self.cents = [cents + rng.gauss(0, 2.5) for _ in range(6)]
        self.string_db = [rng.gauss(0, 1.5) for _ in range(6)]
        # Where the strings are plucked, as a share of the open string from the bridge: the thumb's strings often nearer the middle.
        near, lean = rng.uniform(0.07, 0.26), rng.uniform(-0.005, 0.025)
        self.pluck = [max(0.04, near + lean * (5 - s) + rng.gauss(0, 0.01)) for s in range(6)]
        self.comb = rng.choice([0, rng.uniform(0.05, 0.5), rng.uniform(0.05, 0.5)])
        self.dark = max(0.0, rng.gauss(0.05, 0.25))
        # Shorter strings sound darker and die sooner, wound ones more so: by fret, strings 6 to 1.
        shorter = rng.choice([0, 1, 1])
        wound = [1.0, 1.0, 1.0, rng.choice([0.5, 0.5, 1.0]), 0.5, 0.5]
        self.fret_dark = [shorter * w * rng.uniform(0, 0.05) for w in wound]
        self.fret_decay = [shorter * w * rng.uniform(0, 0.14) for w in wound]
        self.beating = rng.choice([0, 0, 0.15, 0.3, 0.6])
        self.extra_decay = rng.choice([0, 0, 0, rng.uniform(0, 3), rng.uniform(2, 9) if rng.random() < 0.4 else 0])
        # Where the recording says which string it was, the string's own timbre is in it; elsewhere where it is plucked and how
        # far up, and what else rings (a string sounds one note at a time), still tell.
        self.string_known = bool(bank.string[bank.of_guitar[guitar]].max() > 0)
        self.size = 0  # semitones: a guitar as much smaller or larger, its notes taken from as much higher or lower
        self.pairing, self.sympathy, self.even = 0.0, 0.0, 0.0
        if bank.rich:
            self.size = rng.choice([0, 0, 0, 0, -4, -3, -2, 2, 3, 4])
            self.pairing = rng.choice([0, 0.3, 0.6, 1])
            self.sympathy = rng.choice([0, 0, 0.3, 0.8])
            self.even = rng.choice([0, 0, 0, 0.3, 0.8])

    def stop(self, s, at, fade):
        held = self.sounding[s]
        if held is None:
            return
        event, label = held
        stop = max(at - event[2], 60)
        if stop < event[3]:
            event[3], event[4] = stop, fade
            label[3] = min(label[3], event[2] + stop + 0.5 * fade)
        self.sounding[s] = None

    def pluck_string(self, s, midi, at, gain_db, plucked=True):
        rng, bank = self.rng, self.bank
        if not LOWEST_MIDI <= midi <= HIGHEST_MIDI:
            return
        self.stop(s, at - (rng.randint(0, 440) if plucked else 0), rng.randint(60, 330))
        options = bank.candidates(self.guitar, midi + self.size, 6 - s)
        src = options[0] if len(options) == 1 else rng.choice(options)
        semis = midi - (bank.midi[src] + bank.cents[src] / 100) + self.cents[s] / 100
        ratio = 2 ** (semis / 12)
        skip = 0 if plucked else rng.randint(int(0.05 * RATE_HZ), int(0.16 * RATE_HZ))
        length = int((bank.length[src] - skip) / ratio)
        if length < 400:
            return
        fret = 0 if self.string_known else midi - self.open_midi[s]
        decay = self.extra_decay + self.fret_decay[s] * fret
        # Where the sound has died away: the recorded envelope, stretched, plus what the player's damping adds.
        env = bank.env_db[src]
        t = np.arange(len(env)) * (ENV_HOP / ratio / RATE_HZ)
        alive = np.flatnonzero(env - 8.686 * decay * t > AUDIBLE_DB)
        audible = int(((alive[-1] + 1) if len(alive) else 1) * ENV_HOP / ratio) - int(skip / ratio)
        period = RATE_HZ / (440 * 2 ** ((midi - 69) / 12))
        comb_delay = max(0.03, self.pluck[s] + rng.gauss(0, 0.012)) * 2 ** (fret / 12) * period
        comb_depth = self.comb * rng.uniform(0.6, 1.2)
        pair, pair_shift = 0.0, 0.0
        if bank.rich:
            if rng.random() < self.even:  # the octave as strong as in an octave pinch, but one note: even partials up, odd ones down
                comb_delay, comb_depth = 0.5 * period, -rng.uniform(0.1, 0.5)
            if rng.random() < self.pairing:  # a second polarisation a little off: every partial swells and fades in its own time
                pair = rng.uniform(0.1, 0.8) if rng.random() < 0.7 else -rng.uniform(0.05, 0.3)
                pair_shift = rng.choice([-1, 1]) * 0.08 * (2.0 / 0.08) ** rng.random() * period / RATE_HZ
        event = [
            self.clip, src, at, length, 200, ratio, 10 ** ((gain_db + self.string_db[s]) / 20), skip,
            8 if plucked else rng.randint(60, 260),
            comb_delay, comb_depth,
            min(0.9, max(-0.45, self.dark + self.fret_dark[s] * fret + rng.gauss(0, 0.1) - gain_db * 0.012)), decay / RATE_HZ,
            # A beating tail, as two polarisations or two strings make it: no new onset.
            rng.uniform(0.1, 0.6) if rng.random() < self.beating else 0.0,
            2 * math.pi * rng.uniform(0.7, 7) / RATE_HZ, rng.uniform(0, 6.28), pair, pair_shift,
        ]
        label = [self.clip, midi - LOWEST_MIDI, at, at + max(audible, 900), (6 - s) if self.string_known or bank.every_string else 0, 1.0]
        self.events.append(event)
        self.labels.append(label)
        self.sounding[s] = [event, label]
        if self.sympathy and plucked:
            self.answer(s, midi, at, gain_db)

    def answer(self, s, midi, at, gain_db):
        """Strings whose fundamental is a partial of what was struck begin to sound by themselves, softly and late: no onset."""
        rng, bank = self.rng, self.bank
        for k in range(6):
            held = self.sounding[k]
            pitch = held[1][1] + LOWEST_MIDI if held else self.open_midi[k]
            if k == s or pitch - midi not in (0, 12, 19, 24) or not pitch <= HIGHEST_MIDI or rng.random() > self.sympathy:
                continue
            src = rng.choice(bank.candidates(self.guitar, pitch + self.size, 6 - k))
            ratio = 2 ** ((pitch - (bank.midi[src] + bank.cents[src] / 100) + self.cents[k] / 100) / 12)
            skip = rng.randint(int(0.05 * RATE_HZ), int(0.16 * RATE_HZ))
            length = min(int((bank.length[src] - skip) / ratio), int(rng.uniform(0.3, 1.5) * RATE_HZ))
            if length > 4000:
                gain = 10 ** ((gain_db - rng.uniform(16, 34)) / 20)
                self.events.append([self.clip, src, at, length - 3000, 3000, ratio, gain, skip, rng.randint(600, 4000)] + [0.0] * 9)


def play(rng, bank, clip_idx, clip_len, guitar, cents):
    """One clip of playing. Returns (events, labels) as lists of rows."""
    open_midi = choose(rng, TUNINGS)
    capo = rng.choice([0, 0, 0, 0, 1, 2, 2, 3, 3, 4, 5, 6, 7])
    open_midi = [o + capo for o in open_midi]
    p = Player(rng, bank, clip_idx, clip_len, guitar, cents, open_midi)
    # The bank may not reach as low as the tuning: notes out of reach are skipped by distance below.
    style = choose(rng, [("arpeggio", 46), ("travis", 12), ("block", 9), ("strum", 7), ("pinch", 14), ("melody", 12)] + ([("octaves", 14)] if bank.rich else []))
    slots = rng.choice([8, 8, 8, 6, 12, 16, 16])
    slot_sec = rng.choice([rng.uniform(0.09, 0.2), rng.uniform(0.13, 0.32), rng.uniform(0.2, 0.6)])
    if style in ("block", "strum"):
        slot_sec = max(slot_sec, 0.14)
    swing = rng.choice([0, 0, 0, rng.uniform(0, 0.33)])
    jitter = rng.choice([0.0, 0.004, 0.008, 0.015])
    dyn = rng.uniform(1, 5)  # deviation of single notes, dB
    roll = rng.choice([0.0, 0.0, 0.004, 0.012, 0.03])  # spread of a pinch or block
    staccato = rng.random() < 0.1
    legato = rng.choice([0, 0, 0.05, 0.15])
    inner_db = rng.choice([0, 0, -4, -8])
    pattern = make_pattern(rng, style, slots)
    base = rng.choice([0, 0, 0, 1, 2, 2, 3, 5, 5, 7, 9])
    start = -int(rng.uniform(1.5, 3.5) * RATE_HZ)
    if rng.random() < 0.12:
        start = int(rng.uniform(0, 0.5) * clip_len)  # silence or talk first
    end = clip_len if rng.random() > 0.1 else int(rng.uniform(0.4, 1) * clip_len)
    at, slot, bars, line_fret = float(start), 0, 0, 0
    shape = make_shape(rng, open_midi, base)
    bars_per_shape = rng.choice([0.5, 1, 1, 1, 2, 2, 4])
    next_change = bars_per_shape * slots
    held_bass = rng.random() < 0.3
    bass_midi = None
    line_string = 5
    over = None  # the pair of an octave style: string, pitch, string above, its pitch
    while at < end:
        if slot >= next_change:
            next_change += bars_per_shape * slots
            base = max(0, min(12, base + rng.choice([-3, -2, -1, 0, 0, 1, 2, 3, 5, -5])))
            new = make_shape(rng, open_midi, base) if rng.random() < 0.85 else list(shape)
            if held_bass:  # a bass held on under changing chords
                low = next((k for k in range(6) if shape[k] is not None), None)
                if low is not None:
                    new[: low + 1] = shape[: low + 1]
            for s in range(6):
                if new[s] != shape[s] and shape[s] not in (None, 0) and p.sounding[s] is not None:
                    if rng.random() < 0.9:
                        p.stop(s, int(at - rng.uniform(0, 0.05) * RATE_HZ), rng.randint(200, 900))
            shape = new
            if rng.random() < 0.1:
                pattern = make_pattern(rng, style, slots)
        hits = pattern[slot % slots]
        if rng.random() < 0.04:
            hits = []
        when = at + (swing * slot_sec * RATE_HZ if slot % 2 else 0) + rng.gauss(0, jitter) * RATE_HZ
        played = [k for k in range(6) if shape[k] is not None]
        if len(played) < 2:
            shape = make_shape(rng, open_midi, base)
            played = [k for k in range(6) if shape[k] is not None]
        plucks = []  # (string, midi, dB, order)
        if played:
            lows = [k for k in played if k <= 2] or played[:1]
            highs = [k for k in reversed(played) if k >= 2] or played[-1:]
            for (kind, k), db in hits:
                if kind == "b":
                    s = lows[k % len(lows)]
                    plucks.append((s, open_midi[s] + shape[s], db))
                elif kind == "t":
                    s = highs[k % len(highs)]
                    f = shape[s]
                    if rng.random() < 0.06:
                        f = max(0, f + rng.choice([-2, -1, 1, 2, 3]))
                    plucks.append((s, open_midi[s] + f, db))
                elif kind == "line":
                    line_fret = max(0, min(14, line_fret + rng.choice([-3, -2, -2, -1, 0, 1, 2, 2, 3])))
                    if rng.random() < 0.3:
                        line_string = rng.choice([2, 3, 4, 5, 5, 5])
                    plucks.append((line_string, open_midi[line_string] + max(0, base + line_fret - 4), db + 2))
                elif kind == "oct":
                    s = rng.choice(lows)
                    m = open_midi[s] + shape[s]
                    for up in rng.sample([12, 12, 12, 24, 19], 2):
                        for s2 in range(s + 1, 6):
                            if 0 <= m + up - open_midi[s2] <= max(base + 5, 4):
                                plucks.append((s2, m + up, db + rng.uniform(-9, 3)))
                                break
                        else:
                            continue
                        break
                    plucks.append((s, m, db))
                elif kind == "over":
                    if over is None or over[0] not in played or open_midi[over[0]] + shape[over[0]] != over[1]:
                        s = rng.choice(lows)
                        m = open_midi[s] + shape[s]
                        ups = [(s2, m + up) for up in (12, 12, 12, 19, 24) for s2 in range(s + 1, 6) if 0 <= m + up - open_midi[s2] <= 14]
                        over = (s, m, *rng.choice(ups)) if ups else None
                    if over is not None and k != 1:
                        plucks.append((over[0], over[1], db))
                    if over is not None and k != 0:
                        plucks.append((over[2], over[3], db + rng.uniform(-8, 3)))
                else:
                    strings = played if k > 0 else list(reversed(played))[: rng.randint(2, 5)]
                    spread = rng.uniform(0.002, 0.02)
                    for n, s in enumerate(strings):
                        p.pluck_string(s, open_midi[s] + shape[s], int(when + n * spread * RATE_HZ), db + rng.gauss(0, dyn))
        seen = set()
        plucks = [x for x in plucks if not (x[0] in seen or seen.add(x[0]))]
        plucks.sort()
        spread = roll * rng.uniform(0.3, 1.2)
        for n, (s, midi, db) in enumerate(plucks):
            inner = inner_db if 0 < n < len(plucks) - 1 else 0
            t = int(when + (n * spread + rng.gauss(0, 0.002)) * RATE_HZ)
            p.pluck_string(s, midi, t, db + inner + rng.gauss(0, dyn))
            if legato and rng.random() < legato and slot_sec > 0.12:
                other = midi + rng.choice([-2, -1, 1, 2])
                if other > open_midi[s]:
                    p.pluck_string(s, other, int(t + slot_sec * RATE_HZ * rng.choice([0.5, 0.5, 0.33, 1])), db - rng.uniform(2, 8), plucked=False)
            if staccato:
                p.stop(s, int(t + slot_sec * RATE_HZ * rng.uniform(0.5, 1.1)), rng.randint(150, 700))
        at += slot_sec * RATE_HZ
        slot += 1
    return p.events, p.labels


def add_distractors(rng, bank, clip_idx, clip_len, events, labels):
    """Sounds that are no notes: talk, clicks, taps, thumps, squeaks, muted strokes. They carry no label."""
    def put(src, at, gain_db, length=None, decay=0.0, ratio=1.0):
        n = int(bank.length[src] / ratio) if length is None else length
        events.append([clip_idx, src, int(at), n, 200, ratio, 10 ** (gain_db / 20), 0, 8, 0.0, 0.0, rng.uniform(-0.3, 0.5), decay / RATE_HZ, 0.0, 0.0, 0.0, 0.0, 0.0])

    d = bank.distractors
    if rng.random() < 0.14:  # talk, mostly where the music is not
        first = min((r[2] for r in labels), default=clip_len)
        at = rng.uniform(-1, 1) * RATE_HZ if first > RATE_HZ or rng.random() < 0.5 else rng.uniform(0, clip_len)
        put(rng.choice(d["voice"]), at, rng.uniform(-14, 4))
        if rng.random() < 0.4:
            put(rng.choice(d["voice"]), at + RATE_HZ * 2, rng.uniform(-14, 2))
    if rng.random() < 0.12:  # metronome or count-in
        src, step = rng.choice(d["click"]), rng.uniform(0.3, 1.0) * RATE_HZ
        at, gain = rng.uniform(-1, 1) * RATE_HZ, rng.uniform(-24, 4)
        while at < clip_len:
            put(src, at, gain + rng.uniform(-1, 1))
            at += step
            if gain > -8 and rng.random() < 0.2:
                break
    if rng.random() < 0.22:
        for _ in range(rng.randint(1, 8)):
            put(rng.choice(d["thump"]), rng.uniform(0, clip_len), rng.uniform(-26, 0))
    if rng.random() < 0.22:
        for _ in range(rng.randint(1, 6)):
            put(rng.choice(d["squeak"]), rng.uniform(0, clip_len), rng.uniform(-34, -12))
    if rng.random() < 0.12:  # muted strokes
        at, step = rng.uniform(0, clip_len), rng.uniform(0.2, 0.7) * RATE_HZ
        for _ in range(rng.randint(1, 5)):
            g = rng.choice(bank.real_guitars)
            for _ in range(rng.randint(1, 3)):
                put(rng.choice(bank.of_guitar[g]), at + rng.randint(0, 300), rng.uniform(-8, 3), length=1800, decay=rng.uniform(60, 140), ratio=rng.uniform(0.8, 1.2))
            put(rng.choice(d["thump"]), at, rng.uniform(-20, -4))
            at += step
    # Finger noise just before plucks, and pick clicks on them.
    if rng.random() < 0.3:
        gain = rng.uniform(-34, -16)
        for r in labels:
            if rng.random() < 0.5:
                put(rng.choice(d["tick"]), r[2] - rng.randint(0, 500), gain + rng.uniform(-4, 4))


def make_batch(seed, bank, clips, clip_len, weights):
    """Events and labels of `clips` clips as float64 arrays (rows, fields), plus the group of each clip's guitar.
    @param weights list of (guitar index, weight)"""
    rng = random.Random(seed)
    events, labels, groups = [], [], []
    for c in range(clips):
        guitar = choose(rng, weights)
        cents = rng.gauss(0, 7) if rng.random() < 0.7 else rng.uniform(-45, 45)
        ev, lab = play(rng, bank, c, clip_len, guitar, cents)
        if rng.random() < 0.04:
            ev, lab = [], []  # no guitar at all
        add_distractors(rng, bank, c, clip_len, ev, lab)
        events += ev
        labels += lab
        groups.append({"acoustic": 0, "electric": 1, "synth": 2}[bank.guitars[guitar][1]])
    ev = np.array(events, np.float64).reshape(-1, len(EVENT_FIELDS))
    lab = np.array(labels, np.float64).reshape(-1, len(LABEL_FIELDS))
    # Only what sounds within the clip.
    ev = ev[(ev[:, 2] < clip_len) & (ev[:, 2] + ev[:, 3] + ev[:, 4] > 0)]
    lab = lab[(lab[:, 2] < clip_len) & (lab[:, 3] > 0)]
    ev = ev[np.argsort(np.minimum(ev[:, 3] + ev[:, 4], clip_len - ev[:, 2]), kind="stable")]
    return ev, lab, np.array(groups)

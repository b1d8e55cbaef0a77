"""What the hands of generated playing choose from: tunings, shapes of the left hand, patterns of the right. Plain `random.Random`."""

# Open strings 6 -> 1 and how often each tuning is drawn.
TUNINGS = [
    ((40, 45, 50, 55, 59, 64), 56),  # standard
    ((38, 45, 50, 55, 59, 64), 12),  # drop D
    ((38, 45, 50, 55, 57, 62), 8),  # D A D G A D
    ((38, 43, 50, 55, 59, 62), 5),  # open G
    ((38, 45, 50, 54, 57, 62), 5),  # open D
    ((36, 43, 48, 55, 60, 64), 5),  # open C
    ((36, 43, 50, 55, 59, 64), 2),  # C G D G B E
    ((39, 44, 49, 54, 58, 63), 4),  # a semitone down
    ((38, 43, 48, 53, 57, 62), 3),  # a tone down
]
QUALITIES = [(0, 4, 7), (0, 3, 7), (0, 4, 7, 11), (0, 3, 7, 10), (0, 4, 7, 10), (0, 2, 7), (0, 5, 7), (0, 4, 7, 14 % 12), (0, 3, 6, 9), (0, 4, 8)]


def choose(rng, pairs):
    total = sum(w for _, w in pairs)
    at = rng.random() * total
    for item, w in pairs:
        at -= w
        if at < 0:
            return item
    return pairs[-1][0]


def make_shape(rng, open_midi, base):
    """Frets by string 6..1 (list of six, None = not played) of a chord in reach of the hand at `base`."""
    if rng.random() < 0.2:
        return [rng.choice([0, None]) if rng.random() < 0.4 else base + rng.randint(0, 3) for _ in range(6)]
    root = rng.randrange(12)
    tones = {(root + t) % 12 for t in rng.choice(QUALITIES)}
    shape = []
    for o in open_midi:
        options = [f for f in range(max(base, 1), base + 4) if (o + f) % 12 in tones]
        if o % 12 in tones:
            options += [0, 0] if base <= 4 else [0]
        elif rng.random() < 0.12:
            options.append(0)  # an open string that the chord does not hold
        shape.append(rng.choice(options) if options else None)
    return shape


def make_pattern(rng, style, slots):
    """List over slots of lists of (role, accent dB). Roles: ("b", k) k-th bass string, ("t", k) k-th treble string, ("all", dir)."""
    pat = [[] for _ in range(slots)]
    if style == "arpeggio":
        step = rng.choice([1, 1, 1, 2]) if slots >= 8 else 1
        order = [rng.randrange(3 if rng.random() < 0.75 else 4) for _ in range(rng.choice([2, 3, 4, 5, 6, 8]))]
        if rng.random() < 0.5:
            order = rng.choice([[2, 1, 0], [2, 1, 0, 1], [2, 1, 0, 1, 0, 1], [2, 0, 1, 0], [1, 0, 2, 0], [2, 1, 0, 0, 1, 2], [3, 2, 1, 0], [0, 1, 2], [2, 1]])
        bass_every = rng.choice([slots, slots // 2, max(1, slots // 4), 3])
        k = 0
        for s in range(0, slots, step):
            on_bass = s % bass_every == 0
            if on_bass:
                pat[s].append((("b", rng.choice([0, 0, 1]) if s else 0), rng.uniform(-2, 3)))
            if not on_bass or rng.random() < 0.35:
                pat[s].append((("t", order[k % len(order)]), rng.uniform(-3, 2)))
                k += 1
    elif style == "travis":
        for s in range(0, slots, 2):
            pat[s].append((("b", (s // 2) % rng.choice([2, 2, 3])), rng.uniform(-2, 2)))
        for s in range(slots):
            if rng.random() < (0.5 if s % 2 else 0.25):
                pat[s].append((("t", rng.randrange(3)), rng.uniform(-3, 3)))
    elif style == "block":
        for s in range(0, slots, rng.choice([2, 2, 4])):
            roles = [("b", 0)] if rng.random() < 0.7 else []
            for t in rng.sample([0, 1, 2, 3], rng.randint(2, 4)):
                roles.append(("t", t))
            for r in roles:
                pat[s].append((r, rng.uniform(-6, 2)))
    elif style == "strum":
        for s in range(slots):
            if s == 0 or rng.random() < 0.5:
                pat[s].append((("all", -1 if s % 2 and rng.random() < 0.8 else 1), rng.uniform(-5, 2)))
    elif style == "pinch":
        for s in range(slots):
            u = rng.random()
            if u < 0.45:
                pat[s] += [(("b", rng.choice([0, 0, 1])), rng.uniform(-3, 2)), (("t", rng.randrange(3)), rng.uniform(-6, 2))]
            elif u < 0.7:
                pat[s].append((("t", rng.randrange(4)), rng.uniform(-4, 2)))
            elif u < 0.8:
                pat[s].append((("oct", 0), rng.uniform(-4, 2)))
    elif style == "octaves":  # one string over another at an octave or twelfth: the one, the other, or both
        for s in range(slots):
            u = rng.random()
            if u < 0.8:
                pat[s].append((("over", 0 if u < 0.35 else 1 if u < 0.55 else 2), rng.uniform(-4, 2)))
            if u > 0.7:
                pat[s].append((("t", rng.randrange(3)), rng.uniform(-4, 2)))
    elif style == "melody":
        for s in range(slots):
            if rng.random() < 0.75:
                pat[s].append((("line", 0), rng.uniform(-4, 2)))
            if s % 4 == 0 and rng.random() < 0.6:
                pat[s].append((("b", 0), rng.uniform(-4, 2)))
    return pat

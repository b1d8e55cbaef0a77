"""Writes card.json beside the weights: python3 make_card.py listener.onnx facts.json card.json

facts.json holds what was measured (calibration, thresholds, training, metrics); this adds what follows from the files.
"""

import hashlib
import json
import sys
from pathlib import Path

SOURCES = [
    dict(what="archtop-mic, acoustic archtop", origin="github sfzinstruments/karoryfer.shinyguitar", licence="CC0"),
    dict(what="electric-di", origin="github sfzinstruments/karoryfer.emilyguitar", licence="CC0"),
    dict(what="spanish-nylon", origin="github freepats/spanish-classical-guitar", licence="CC0"),
    dict(what="strat-by-string, electric, every string by itself", origin="github nyanshell/nyanshell.strat", licence="MIT"),
    dict(what="hollowbody-black, hollowbody-green", origin="github kmturley/karoryfer.black-and-green-guitars", licence="CC0"),
    dict(what="steel-dreadnought", origin="github sfzinstruments/Discord-SFZ-GM-Bank, folder 026", licence="CC0"),
    dict(what="steel-generative", origin="github generative-music/samples.generative.fm", licence="MIT"),
    dict(what="freepats nylon, steel, jazz and clean guitar (024 to 027)", origin="Debian package freepats 20060219", licence="GPL-2.0-or-later with an exception for compositions"),
    dict(what="40 synthesised steel and nylon guitars, sounds that are no notes", origin="models/listener/synth.py, sounds.py", licence="AGPL-3.0-or-later"),
]

onnx, facts, out = (Path(p) for p in sys.argv[1:4])
data = onnx.read_bytes()
card = dict(
    name="pulgar listener",
    hears="onset, sounding and string of the notes of one fingerstyle guitar, MIDI 36 to 88",
    file=onnx.name,
    sha256=hashlib.sha256(data).hexdigest(),
    bytes=len(data),
    licence="AGPL-3.0-or-later",
    sampleRateHz=22050,
    hopLen=256,
    bandCount=264,
    frameLen=528,
    input="features, float32, shape (frames, 528): channel 0 then channel 1 of features.py",
    outputs="logits: onset (frames, 53), sounding (frames, 53), strings (frames, 53, 6)",
    lowestMidi=36,
    pitchCount=53,
    contextFrames=64,
    **json.loads(facts.read_text()),
    data=SOURCES,
    heldOut="the guitars of npm tonejs-instrument-guitar-* and of Debian's fluid-soundfont-gm were in no training",
)
out.write_text(json.dumps(card, indent=2) + "\n")

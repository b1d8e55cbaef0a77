"""Trains and scores the listener once for each guitar of the bank, without that guitar: several runs at a time on every GPU.

    python3 left_out.py --out DIR --gpus 2 --slots 5 [--guitars GUITAR ...] [--prefix one-] -- --bank bank.packed.npz --steps 1800 ...

What follows `--` goes to train.py as it is. Writes DIR/PREFIXGUITAR.pt, .onnx and .log.
"""

import argparse
import os
import queue
import subprocess
import sys
import threading
from pathlib import Path

GUITARS = [
    "spanish-nylon", "steel-dreadnought", "freepats-nylon", "freepats-steel", "archtop-mic", "steel-generative",
    "electric-di", "freepats-clean", "freepats-jazz", "hollowbody-black", "hollowbody-green", "strat-by-string",
]


def main():
    at = sys.argv.index("--")
    ap = argparse.ArgumentParser()
    ap.add_argument("--out", required=True)
    ap.add_argument("--gpus", type=int, default=1)
    ap.add_argument("--slots", type=int, default=5, help="runs at a time on a GPU")
    ap.add_argument("--guitars", nargs="+", default=GUITARS)
    ap.add_argument("--prefix", default="one-")
    args, rest = ap.parse_args(sys.argv[1:at]), sys.argv[at + 1 :]
    here = Path(__file__).parent
    todo = queue.SimpleQueue()
    for guitar in args.guitars:
        todo.put(guitar)

    def slot(gpu):
        env = dict(os.environ, CUDA_VISIBLE_DEVICES=str(gpu))
        while True:
            try:
                guitar = todo.get_nowait()
            except queue.Empty:
                return
            name = args.prefix + guitar
            own = ["--out", args.out, "--name", name, "--leave-out", guitar]
            subprocess.run([sys.executable, here / "train.py", *own, *rest], env=env, stdout=subprocess.DEVNULL, check=True)
            made = [Path(args.out) / f"{name}.{kind}" for kind in ("pt", "onnx")]
            subprocess.run([sys.executable, here / "export.py", *made], env=dict(env, CUDA_VISIBLE_DEVICES=""), stdout=subprocess.DEVNULL, check=True)

    threads = [threading.Thread(target=slot, args=(k % args.gpus,)) for k in range(args.gpus * args.slots)]
    for t in threads:
        t.start()
    for t in threads:
        t.join()


if __name__ == "__main__":
    main()

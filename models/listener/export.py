"""Weights of a training -> listener.onnx (batch norms folded, input `features` (frames, 528), outputs onset, sounding, strings).

    python3 export.py main.pt listener.onnx
"""

import sys
import warnings

import torch

from net import Deployed, Net, fold

if __name__ == "__main__":
    warnings.filterwarnings("ignore")
    saved = torch.load(sys.argv[1], map_location="cpu")
    net = Net(**saved["config"])
    net.load_state_dict(saved["mean"])
    names = ["onset", "sounding", "strings"]
    torch.onnx.export(
        Deployed(fold(net)), torch.zeros(200, 528), sys.argv[2], input_names=["features"], output_names=names,
        dynamic_axes={n: {0: "frames"} for n in ["features", *names]}, opset_version=15, **({"dynamo": False} if torch.__version__ >= "2.5" else {}),
    )
    print(sum(p.numel() for p in net.parameters()), "parameters")

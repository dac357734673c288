"""Averages the weights of networks trained on from one another: better than either, at no cost.

    python3 average.py ONE.pt OTHER.pt … OUT.pt
"""

import sys

import torch

from network import PawNet

*sources, target = sys.argv[1:]
if len(sources) < 2:
    sys.exit(__doc__)
stored = [torch.load(path, map_location="cpu") for path in sources]
config = PawNet(**stored[0]["config"]).config
if any(PawNet(**s["config"]).config != config for s in stored):
    sys.exit("These networks are not of one shape.")
weights = {k: sum(s["weights"][k].float() for s in stored) / len(stored) for k in stored[0]["weights"]}
torch.save({"config": config, "weights": {k: v.half() for k, v in weights.items()}}, target)

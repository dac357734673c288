"""Averages the weights of networks trained on from one another: better than either, at no cost.

    python3 average.py ONE.pt OTHER.pt … OUT.pt
"""

import sys

import torch

*sources, target = sys.argv[1:]
if len(sources) < 2:
    sys.exit(__doc__)
stored = [torch.load(path, map_location="cpu") for path in sources]
shapes = [{k: v.shape for k, v in s["weights"].items()} for s in stored]
if any(shape != shapes[0] for shape in shapes):
    sys.exit("These networks are not of one shape.")
mean = lambda parts: sum(p.float() for p in parts) / len(parts)  # noqa: E731
weights = {k: mean([s["weights"][k] for s in stored]) for k in shapes[0]}
# What was learned beside the weights, such as the offset of labels from pads.
beside = {k: mean([s[k] for s in stored]) for k in stored[0] if torch.is_tensor(stored[0][k])}
torch.save({"config": stored[0]["config"], "weights": weights, **beside}, target)

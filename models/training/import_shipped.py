"""Brings the shipped tfjs files back as weights to train on from, so that nothing but them need be kept.

    python3 import_shipped.py ../paws/paws.json OUT.pt [--context 2 1]

Checks the result: for the picture that the files carry answers for, the network must give them again. --context adds
far-looking blocks that start as nothing.
"""

import argparse
import json
from pathlib import Path

import torch

from export import maps_of, trial_picture
from graph_file import GraphFile
from maps import MAPS
from network import BLOCKS, PawNet, layers_in_order

CONVOLUTIONS = ("_FusedConv2D", "FusedDepthwiseConv2dNative")
# Half floats of the weights are exact; what differs is the order of sums.
TOLERANCE = 1e-3


def convolutions_of(graph):
    return [graph.conv_weights(name) for name, node in graph.nodes.items() if node["op"] in CONVOLUTIONS]


def shape_of(stored):
    """The network's configuration, read off the shapes of its layers."""
    count = 3 + 3 * len(BLOCKS)
    inside = [stored[i][0].shape[0] for i in range(3, count, 3)]
    far = [weight.shape[0] for weight, _ in stored if weight.shape[-1] == 7]
    return {
        "width": stored[2][0].shape[0] / 16,
        "head": stored[-1][0].shape[1],
        "deep": stored[count][0].shape[0],
        "context": (far.count(64 * 4), len(far) - far.count(64 * 4)),
        "stem": stored[0][0].shape[0],
        "hidden": tuple(inside),
        "last": stored[count - 1][0].shape[0],
    }


def load_shipped(path):
    """The network of a paws.json; raises ValueError where it is not one of ours."""
    stored = convolutions_of(GraphFile(path))
    net = PawNet(**shape_of(stored))
    layers = list(layers_in_order(net))
    if len(layers) != len(stored):
        raise ValueError(f"{path} holds {len(stored)} convolutions, not {len(layers)}: it is no paw network.")
    with torch.no_grad():
        for layer, (weight, bias) in zip(layers, stored):
            if layer.depthwise:
                weight = weight.reshape(layer.conv.weight.shape)
            layer.conv.weight.copy_(weight)
            if layer.conv.bias is not None:
                layer.conv.bias.copy_(bias)
    return net.eval()


def largest_difference(net, path):
    """From the answers stored in the file's metadata."""
    facts = json.loads(Path(path).read_text())["userDefinedMetadata"]
    if facts["maps"] != MAPS:
        raise ValueError(f"{path} has other maps than maps.py.")
    own = torch.from_numpy(maps_of(net, trial_picture(facts["inputPx"]))).reshape(-1)
    return (own[torch.tensor(facts["trial"]["at"])] - torch.tensor(facts["trial"]["values"])).abs().max().item()


if __name__ == "__main__":
    ask = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    ask.add_argument("graph")
    ask.add_argument("weights")
    ask.add_argument("--context", type=int, nargs=2, default=None)
    given = ask.parse_args()
    net = load_shipped(given.graph)
    off = largest_difference(net, given.graph)
    if off > TOLERANCE:
        raise SystemExit(f"The weights read give other answers than the file says, by {off:.1e}.")
    if given.context:
        grown = PawNet(**{**net.config, "context": given.context})
        grown.load_state_dict(net.state_dict(), strict=False)
        net = grown.eval()
        off = largest_difference(net, given.graph)
    torch.save({"config": net.config, "weights": {k: v.half() for k, v in net.state_dict().items()}}, given.weights)
    print(f"{net.config}: answers within {off:.1e} of the file's")

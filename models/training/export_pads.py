"""Writes the trained pad network as the files that the app loads: pads.json and pads.bin.

    python3 export_pads.py WEIGHTS.pt ../paws --answer ../checks/dog.png

patches (bytes) → chances of the cell that the pad lies in, row by row, and last of there being no paw.
With --answer, PyTorch's own answers for patches of a picture, and the places read off them, are written beside it
(pads.json) for tests/browser/paws.test.ts and tests/outside/paw-network.test.ts to hold the files against.
"""

import argparse
import json
from pathlib import Path

import numpy as np
import torch

from export import trial_picture
from graph_file import GraphWriter
from pad_network import CELL, PATCH, SHARE, SIDE, PadNet, folded, place_of

# The patch on which the app tries a backend, cut from the trial picture; src/paws/trial.ts cuts the same.
TRIAL_SIZE, TRIAL_X, TRIAL_Y = 224, 40, 130
# Side of the picture that is answered for, and the top left corners of its patches.
ANSWER_SIZE = 224
ANSWERED = ((30, 150), (60, 150), (110, 150), (150, 140), (0, 0))


def draw(g, net):
    """Adds the folded network to a graph; returns the node with the chances [n, SIDE² + 1]."""
    x = g.cast(g.placeholder("patches", [-1, PATCH, PATCH, 3], "int32"), "DT_INT32", "DT_FLOAT")
    x = g.binary("Sub", g.binary("Mul", x, g.const(np.float32(1 / 127.5))), g.const(np.float32(1)))

    def steps(x, blocks):
        for block in blocks:
            y = g.conv(g.conv(g.conv(x, block.expand), block.depthwise), block.project)
            x = g.binary("AddV2", x, y) if block.keeps_shape else y
        return x

    stem = g.conv(x, net.stem)
    quarter = steps(stem, net.quarter)
    eighth = steps(quarter, net.eighth)
    x = g.binary("AddV2", g.resize(g.conv(eighth, net.narrow), SIDE // 2, SIDE // 2), g.conv(quarter, net.beside_quarter))
    x = g.conv(g.conv(x, net.smooth_quarter), net.merge_quarter)
    x = g.binary("AddV2", g.resize(x, SIDE, SIDE), g.conv(stem, net.beside_stem))
    x = g.conv(g.conv(g.conv(x, net.smooth_stem), net.merge_stem), net.place)
    axes = g.const(np.array([1, 2], np.int32))
    mean = g.node("Mean", [eighth, axes], T={"type": "DT_FLOAT"}, Tidx={"type": "DT_INT32"}, keep_dims={"b": True})
    none = g.conv(mean, net.none)
    both = g.concat([g.reshape(x, [-1, SIDE**2]), g.reshape(none, [-1, 1])], 1)
    return g.node("Softmax", [both], name="places", T={"type": "DT_FLOAT"})


def answer(net, patch):
    """Chances of a patch of bytes [PATCH, PATCH, 3]."""
    with torch.no_grad():
        x = torch.from_numpy(patch.copy()).permute(2, 0, 1)[None].float() / 255
        return torch.softmax(net(x), 1)[0].numpy()


def export(net, folder):
    folder = Path(folder)
    folder.mkdir(parents=True, exist_ok=True)
    net = folded(net.float().cpu())
    with torch.no_grad():
        for p in net.parameters():
            p.copy_(p.half().float())
    patch = trial_picture(TRIAL_SIZE)[TRIAL_Y : TRIAL_Y + PATCH, TRIAL_X : TRIAL_X + PATCH]
    told = answer(net, patch)
    # The likeliest cells, so that a backend that answers nothing is told, and a spread of others.
    at = np.unique(np.concatenate([np.argsort(told)[-12:], np.linspace(0, told.size - 1, 61).astype(int)]))
    metadata = {
        "patchPx": PATCH,
        "cellPx": CELL,
        "share": SHARE,
        "trial": {"at": at.tolist(), "values": [round(float(v), 5) for v in told[at]]},
    }
    g = GraphWriter()
    g.weights_in("pads.bin")
    patches = {"patches": ("patches", "int32", [-1, PATCH, PATCH, 3])}
    g.save(folder / "pads.json", patches, {"places": (draw(g, net), "float32", [-1, SIDE**2 + 1])}, metadata)
    return net


def read_place(chances):
    """What `place_of` reads off chances, as a dictionary."""
    logits = torch.from_numpy(chances)[None].clamp_min(1e-12).log()
    at, sd, sure, paw = (v[0].tolist() for v in place_of(logits))
    names = ("x", "y", "sdX", "sdY", "sure", "paw")
    return {name: round(v, 4) for name, v in zip(names, (*at, *sd, sure, paw))}


def write_answer(net, picture_path):
    from PIL import Image

    picture = np.array(Image.open(picture_path).convert("RGB").resize((ANSWER_SIZE, ANSWER_SIZE)))
    patches = []
    for x, y in ANSWERED:
        chances = answer(net, picture[y : y + PATCH, x : x + PATCH])
        values = [round(float(v), 5) for v in chances]
        patches.append({"left": x, "top": y, "values": values, "place": read_place(chances)})
    told = {"size": ANSWER_SIZE, "patchPx": PATCH, "cellPx": CELL, "patches": patches}
    Path(picture_path).with_name("pads.json").write_text(json.dumps(told, separators=(",", ":")))


if __name__ == "__main__":
    ask = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    ask.add_argument("weights")
    ask.add_argument("folder")
    ask.add_argument("--answer", metavar="PICTURE.png")
    given = ask.parse_args()
    stored = torch.load(given.weights, map_location="cpu")
    net = PadNet(**stored["config"])
    net.load_state_dict(stored["weights"])
    net = export(net, given.folder)
    if given.answer:
        write_answer(net, given.answer)
    for file in sorted(Path(given.folder).glob("pads.*")):
        print(f"{file.name}: {file.stat().st_size / 1e6:.3f} MB")
    print(json.dumps({"parameters": sum(p.numel() for p in net.parameters())}))

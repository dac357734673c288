"""Writes a trained network as the files that the app loads.

    python3 export.py WEIGHTS.pt ../paws --size 224 --answer ../checks/dog.png

paws.json      picture → all maps (probabilities), weights in paws.bin
skeleton.json  the same weights with a tail that picks one skeleton in the layout of a multi-pose network:
               17 × (y, x, score), then the dog's box (top, left, bottom, right) and its score, all 0 to 1
With --answer, PyTorch's own answer for a picture is written beside it (PICTURE.json) for
tests/browser/paws.test.ts to hold the files against.
"""

import argparse
import json
from pathlib import Path

import numpy as np
import torch

from graph_file import GraphWriter
from maps import MAPS, SKELETON, STRIDE
from network import LATERALS, PawNet


def trial_picture(size):
    """The picture on which the app tries a backend, a dog of ovals and bars; src/paws/trial.ts draws the same."""
    y, x = np.meshgrid(np.arange(size) * 256 // size, np.arange(size) * 256 // size, indexing="ij")
    shade = (x * 7 + y * 13) % 16
    sky = y < 140
    r, g, b = np.where(sky, 150, 96) + shade, np.where(sky, 165, 132) + shade, np.where(sky, 185, 78) + shade
    dog = np.zeros_like(sky)
    for cx, cy, rx, ry in ((122, 108, 62, 25), (182, 88, 17, 27), (203, 70, 20, 15), (222, 76, 14, 8), (196, 62, 7, 16)):
        dog |= ((x - cx) * ry) ** 2 + ((y - cy) * rx) ** 2 <= (rx * ry) ** 2
    for x0, x1, y0, y1 in ((50, 66, 88, 95), (70, 82, 115, 198), (92, 102, 115, 190), (160, 171, 112, 198), (182, 191, 112, 190)):
        dog |= (x >= x0) & (x <= x1) & (y >= y0) & (y <= y1)
    for x0, x1, y1 in ((70, 88, 198), (92, 108, 190), (160, 177, 198), (182, 197, 190)):
        dog |= (x >= x0) & (x <= x1) & (y >= y1 - 7) & (y <= y1)
    dark = (y - 60) // 4
    r, g, b = np.where(dog, 176 - dark, r), np.where(dog, 126 - dark, g), np.where(dog, 76 - dark // 2, b)
    return np.stack([r, g, b], -1).astype(np.uint8)


# Height of the crops that the app cuts of a dog seen from the side; LOW_CROP_PX in src/paws/crop.ts.
LOW_HEIGHT = 160


def low_trial_picture(size, height):
    """The part of the trial picture from head to feet; src/paws/trial.ts cuts the same."""
    top = round(3 * (size - height) / 4)
    return trial_picture(size)[top : top + height]


def draw_network(g, net, size):
    """Adds the network to a graph; returns the node that holds the maps, [1, size/4, size/4, maps]."""
    x = g.placeholder("picture", [1, size, size, 3], "int32")
    x = g.cast(x, "DT_INT32", "DT_FLOAT")
    x = g.binary("Sub", g.binary("Mul", x, g.const(np.float32(1 / 127.5))), g.const(np.float32(1)))
    for layer in (net.stem, net.stem_depthwise, net.stem_project):
        x = g.conv(x, layer)
    kept = {}
    for number, block in enumerate(net.blocks, 1):
        y = g.conv(g.conv(g.conv(x, block.expand), block.depthwise), block.project)
        x = kept[number] = g.binary("AddV2", x, y) if block.keeps_shape else y
    x = g.conv(g.conv(x, net.deep), net.squeeze)

    def look_around(x, blocks):
        for block in blocks:
            x = g.binary("AddV2", x, g.conv(g.conv(g.conv(x, block.expand), block.depthwise), block.project))
        return x

    x = look_around(x, net.wide)
    side = size // 32
    for (source, _), lateral, smooth, merge in zip(LATERALS, net.laterals, net.smooth, net.merge):
        side *= 2
        x = g.binary("AddV2", g.resize(x, side, side), g.conv(kept[source], lateral))
        x = g.conv(g.conv(x, smooth), merge)
        if source == LATERALS[0][0]:
            x = look_around(x, net.middle)
    x = g.conv(g.conv(g.conv(x, net.head_depthwise), net.head_mix), net.head_maps)
    return g.node("Sigmoid", [x], name="maps", T={"type": "DT_FLOAT"})


def draw_skeleton(g, maps, size):
    """Adds the tail that picks the best cell of each joint, refined below the cell, and the dog's box."""
    n = size // STRIDE
    cells, joints = n * n, len(SKELETON)
    flat = g.reshape(maps, [cells, len(MAPS)])
    heat = g.gather(flat, g.const(np.array([MAPS.index(m) for m, _ in SKELETON], np.int32)), 1)
    left = g.gather(flat, g.const(np.array([MAPS.index("left")], np.int32)), 1)
    slope = {"left": 1.0, "right": -1.0, None: 0.0}
    start = {"left": 0.0, "right": 1.0, None: 1.0}
    side = g.binary(
        "AddV2",
        g.binary("Mul", left, g.const(np.array([[slope[s] for _, s in SKELETON]], np.float32))),
        g.const(np.array([[start[s] for _, s in SKELETON]], np.float32)),
    )
    score = g.binary("Mul", heat, side)
    axis0 = g.const(np.int32(0))
    best = g.node(
        "ArgMax", [score, axis0], T={"type": "DT_FLOAT"}, Tidx={"type": "DT_INT32"}, output_type={"type": "DT_INT32"}
    )
    top = g.node("Max", [score, axis0], T={"type": "DT_FLOAT"}, Tidx={"type": "DT_INT32"}, keep_dims={"b": False})
    logs = g.node(
        "Log", [g.binary("AddV2", g.reshape(heat, [cells * joints]), g.const(np.float32(1e-6)))], T={"type": "DT_FLOAT"}
    )
    column = g.const(np.arange(joints, dtype=np.int32))

    def log_at(offset):
        cell = g.binary("AddV2", best, g.const(np.int32(offset)), "DT_INT32")
        cell = g.binary("Maximum", cell, g.const(np.int32(0)), "DT_INT32")
        cell = g.binary("Minimum", cell, g.const(np.int32(cells - 1)), "DT_INT32")
        index = g.binary("Mul", cell, g.const(np.int32(joints)), "DT_INT32")
        return g.gather(logs, g.binary("AddV2", index, column, "DT_INT32"), 0)

    middle = log_at(0)

    def shift(step):
        """Top of the parabola through three log values, in cells, kept within half a cell."""
        before, after = log_at(-step), log_at(step)
        bend = g.binary("Sub", g.binary("Mul", middle, g.const(np.float32(2))), g.binary("AddV2", before, after))
        bend = g.binary("Maximum", bend, g.const(np.float32(1e-3)))
        s = g.binary("RealDiv", g.binary("Mul", g.binary("Sub", after, before), g.const(np.float32(0.5))), bend)
        return g.binary("Minimum", g.binary("Maximum", s, g.const(np.float32(-0.5))), g.const(np.float32(0.5)))

    row = g.binary("FloorDiv", best, g.const(np.int32(n)), "DT_INT32")
    col = g.binary("Sub", best, g.binary("Mul", row, g.const(np.int32(n)), "DT_INT32"), "DT_INT32")

    def place(index, step):
        p = g.binary("AddV2", g.cast(index, "DT_INT32", "DT_FLOAT"), shift(step))
        p = g.binary("Mul", g.binary("AddV2", p, g.const(np.float32(0.5))), g.const(np.float32(1 / n)))
        return g.reshape(p, [joints, 1])

    points = g.concat([place(row, n), place(col, 1), g.reshape(top, [joints, 1])], 1)

    dog = g.reshape(g.gather(flat, g.const(np.array([MAPS.index("dog")], np.int32)), 1), [n, n])
    positions = np.arange(n, dtype=np.float32) / n

    def extent(axis):
        line = g.node(
            "Max", [dog, g.const(np.int32(axis))], T={"type": "DT_FLOAT"}, Tidx={"type": "DT_INT32"}, keep_dims={"b": False}
        )
        on = g.cast(g.node("Greater", [line, g.const(np.float32(0.5))], T={"type": "DT_FLOAT"}), "DT_BOOL", "DT_FLOAT")
        reduce = {"T": {"type": "DT_FLOAT"}, "Tidx": {"type": "DT_INT32"}, "keep_dims": {"b": False}}
        last = g.node("Max", [g.binary("Mul", on, g.const(positions + 1 / n)), axis0], **reduce)
        first = g.node("Max", [g.binary("Mul", on, g.const(1 - positions)), axis0], **reduce)
        return g.reshape(g.binary("Sub", g.const(np.float32(1)), first), [1]), g.reshape(last, [1])

    (y0, y1), (x0, x1) = extent(1), extent(0)
    sure = g.node(
        "Max", [dog, g.const(np.array([0, 1], np.int32))], T={"type": "DT_FLOAT"}, Tidx={"type": "DT_INT32"}, keep_dims={"b": False}
    )
    whole = g.concat([g.reshape(points, [joints * 3]), y0, x0, y1, x1, g.reshape(sure, [1])], 0)
    whole = g.reshape(whole, [1, 1, joints * 3 + 5])
    return g.node("Identity", [whole], name="skeleton", T={"type": "DT_FLOAT"})


def maps_of(net, picture):
    """Probabilities [h, w, maps] of a picture of bytes [s, s, 3]."""
    with torch.no_grad():
        x = torch.from_numpy(picture.copy()).permute(2, 0, 1)[None].float() / 255
        return torch.sigmoid(net(x))[0].permute(1, 2, 0).numpy()


def trial_of(net, picture):
    """Some of the maps' values for a picture: places in them and what they are."""
    reference = maps_of(net, picture)
    # The highest cell of every map, so that a backend that answers nothing is told too, and a spread of others.
    peaks = reference.reshape(-1, len(MAPS)).argmax(0) * len(MAPS) + np.arange(len(MAPS))
    at = np.unique(np.concatenate([peaks, np.linspace(0, reference.size - 1, 97).astype(int)]))
    return {"at": at.tolist(), "values": [round(float(v), 5) for v in reference.reshape(-1)[at]]}


def export(net, folder, size):
    folder = Path(folder)
    folder.mkdir(parents=True, exist_ok=True)
    net = net.float().cpu().eval()
    with torch.no_grad():
        for p in net.parameters():
            p.copy_(p.half().float())
    n = size // STRIDE
    metadata = {
        "inputPx": size,
        "stride": STRIDE,
        "maps": MAPS,
        "trial": trial_of(net, trial_picture(size)),
        "lowTrial": {"heightPx": LOW_HEIGHT, **trial_of(net, low_trial_picture(size, LOW_HEIGHT))},
    }
    g = GraphWriter()
    g.weights_in("paws.bin")
    maps = draw_network(g, net, size)
    picture = {"picture": ("picture", "int32", [1, size, size, 3])}
    g.save(folder / "paws.json", picture, {"maps": (maps, "float32", [1, n, n, len(MAPS)])}, metadata)
    g = GraphWriter()
    g.weights_in("paws.bin")
    maps = draw_network(g, net, size)
    g.weights_in("skeleton.bin")
    skeleton = draw_skeleton(g, maps, size)
    g.save(folder / "skeleton.json", picture, {"skeleton": (skeleton, "float32", [1, 1, 56])}, {"inputPx": size})
    return net


def best_skeleton(maps):
    """What the skeleton's tail should say, worked out the plain way: [17, 3] of y, x, score and the dog's score."""
    n = maps.shape[0]
    left = maps[..., MAPS.index("left")]
    joints = []
    for name, side in SKELETON:
        heat = maps[..., MAPS.index(name)]
        score = heat * {"left": left, "right": 1 - left, None: 1.0}[side]
        row, col = np.unravel_index(score.argmax(), score.shape)
        logs = np.log(heat + 1e-6)

        def top(before, middle, after):
            bend = max(2 * middle - before - after, 1e-3)
            return float(np.clip((after - before) / 2 / bend, -0.5, 0.5))

        inside = 0 < row < n - 1 and 0 < col < n - 1
        dy = top(logs[row - 1, col], logs[row, col], logs[row + 1, col]) if inside else 0.0
        dx = top(logs[row, col - 1], logs[row, col], logs[row, col + 1]) if inside else 0.0
        joints.append([(row + 0.5 + dy) / n, (col + 0.5 + dx) / n, float(score[row, col])])
    return joints


def write_answer(net, picture_path, size):
    """Every seventh map value and the skeleton, beside the picture."""
    from PIL import Image

    picture = np.array(Image.open(picture_path).convert("RGB").resize((size, size)))
    maps = maps_of(net, picture)
    answer = {
        "size": size,
        "maps": MAPS,
        "every": 7,
        "values": [round(float(v), 4) for v in maps.reshape(-1)[::7]],
        "skeleton": [[round(v, 4) for v in joint] for joint in best_skeleton(maps)],
    }
    Path(picture_path).with_suffix(".json").write_text(json.dumps(answer, separators=(",", ":")))


if __name__ == "__main__":
    ask = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    ask.add_argument("weights")
    ask.add_argument("folder")
    ask.add_argument("--size", type=int, default=192)
    ask.add_argument("--answer", metavar="PICTURE.png")
    given = ask.parse_args()
    stored = torch.load(given.weights, map_location="cpu")
    net = PawNet(**stored["config"])
    net.load_state_dict(stored["weights"])
    export(net, given.folder, given.size)
    if given.answer:
        write_answer(net, given.answer, given.size)
    for file in sorted(Path(given.folder).glob("*.[bj]*")):
        print(f"{file.name}: {file.stat().st_size / 1e6:.2f} MB")
    print(json.dumps({"parameters": sum(p.numel() for p in net.parameters())}))

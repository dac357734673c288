"""Strides of a motion-captured dog, as angles and reaches that fit any body.

    folder of CSV files, a row a frame at 1/60 s: 27 joints × (x, y, z), metres, y up

The layout is that of the dog published with AI4Animation (Zhang et al., ACM TOG 2018, CC BY-NC 4.0). The files are
read while training and are no part of the project.
"""

from pathlib import Path

import numpy as np
import torch

RATE = 60
PELVIS, NECK = 0, 3
# Joints of a limb from its top to the paw; in the order of bodies.make_bodies: left hind, left fore, right hind, right fore.
LIMBS = [(20, 21, 22, 23), (12, 13, 14, 15), (16, 17, 18, 19), (7, 8, 9, 10)]
# A paw lower than this and slower than that is on the ground.
GROUND_M, STILL_MPS = 0.03, 0.5
# Frames in which the dog lies, sits or jumps are left out.
LEAST_PELVIS_M, FARTHEST, HIGHEST = 0.35, 0.9, 0.6


class Recorded:
    """Frames [m, 4 limbs] of `ahead` and `up` (in lengths of the limb), `lean` (radians) and `down` (0 or 1)."""

    def __init__(self, folder, device="cpu"):
        parts = [frames_of(path) for path in sorted(Path(folder).glob("*.txt"))]
        if not parts:
            raise FileNotFoundError(f"no motion files in {folder}")
        joined = [np.concatenate(rows) for rows in zip(*parts)]
        self.ahead, self.up, self.lean, self.down = (torch.tensor(rows, dtype=torch.float32, device=device) for rows in joined)

    def __len__(self):
        return len(self.ahead)


def frames_of(path):
    table = np.array([[float(v) for v in line.replace(",", " ").split()] for line in path.read_text().splitlines() if line.strip()])
    joints = table.reshape(len(table), 27, 3)
    way = joints[:, NECK] - joints[:, PELVIS]
    way[:, 1] = 0
    way /= np.linalg.norm(way, axis=1, keepdims=True).clip(1e-6)
    ahead, up, lean, down = [], [], [], []
    for limb in LIMBS:
        top, _, above, paw = limb
        along = lambda a, b: ((joints[:, b] - joints[:, a]) * way).sum(1)  # noqa: E731, B023
        length = sum(np.median(np.linalg.norm(joints[:, b] - joints[:, a], axis=1)) for a, b in zip(limb, limb[1:]))
        lift = (joints[:, paw, 1] - np.percentile(joints[:, paw, 1], 5)).clip(0)
        pace = np.linalg.norm(np.gradient(joints[:, paw][:, [0, 2]], 1 / RATE, axis=0), axis=1)
        ahead.append(along(top, paw) / length)
        up.append(lift / length)
        lean.append(np.arctan2(along(above, paw), (joints[:, above, 1] - joints[:, paw, 1])))
        down.append((lift < GROUND_M) & (pace < STILL_MPS))
    ahead, up, lean, down = (np.stack(rows, 1) for rows in (ahead, up, lean, down))
    upright = (joints[:, PELVIS, 1] > LEAST_PELVIS_M) & (np.abs(ahead) < FARTHEST).all(1) & (up < HIGHEST).all(1)
    return [rows[upright] for rows in (ahead, up, lean, down)]

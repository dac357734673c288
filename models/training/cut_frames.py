"""Cuts the video frames that models/labels/video.json marks out of their clips, as a folder in the label format.

    python3 cut_frames.py ../labels/video.json CLIPS OUT [--between FRAMES]

With --between, the frames between two marked ones of the same animal (at most eight apart, none of them held out) are
cut too, with boxes and without points: frames for a teacher to speak about.
"""

import argparse
import json
from pathlib import Path

import cv2

MARGIN, LONGEST = 0.3, 288
FARTHEST_APART, FROM_HELD_OUT = 8, 2


def cut(picture, entry, name, folder):
    """Writes the part around the entry's box; returns the entry in its pixels."""
    left, top, right, bottom = entry["box"]
    room = MARGIN * max(right - left, bottom - top)
    x0, y0 = int(max(0, left - room)), int(max(0, top - room))
    x1, y1 = int(min(picture.shape[1], right + room)), int(min(picture.shape[0], bottom + room))
    part = picture[y0:y1, x0:x1]
    scale = min(1, LONGEST / max(part.shape[:2]))
    part = cv2.resize(part, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
    cv2.imwrite(str(folder / name), part, [cv2.IMWRITE_JPEG_QUALITY, 93])
    move = lambda x, y: ((x - x0) * scale, (y - y0) * scale)  # noqa: E731
    return {
        **entry,
        "file": name,
        "w": part.shape[1],
        "h": part.shape[0],
        "box": [*move(left, top), *move(right, bottom)],
        "kp": {k: [*move(x, y), v] for k, (x, y, v) in entry["kp"].items()},
    }


def overlap(a, b):
    wide, high = min(a[2], b[2]) - max(a[0], b[0]), min(a[3], b[3]) - max(a[1], b[1])
    area = lambda c: (c[2] - c[0]) * (c[3] - c[1])  # noqa: E731
    shared = max(0, wide) * max(0, high)
    return shared / (area(a) + area(b) - shared)


def between(entries):
    """Entries without points for the frames between marked ones."""
    held = {(e["clip"], e["frame"]) for e in entries if e["heldOut"]}
    free = sorted((e for e in entries if not e["heldOut"]), key=lambda e: (e["clip"], e["frame"]))
    for a in free:
        later = [b for b in free if b["clip"] == a["clip"] and a["frame"] < b["frame"] <= a["frame"] + FARTHEST_APART]
        follows = next((b for b in later if overlap(a["box"], b["box"]) > 0.3), None)
        for frame in range(a["frame"] + 1, follows["frame"] if follows else 0):
            if any((a["clip"], f) in held for f in range(frame - FROM_HELD_OUT, frame + FROM_HELD_OUT + 1)):
                continue
            share = (frame - a["frame"]) / (follows["frame"] - a["frame"])
            box = [p + (q - p) * share for p, q in zip(a["box"], follows["box"])]
            yield {"clip": a["clip"], "frame": frame, "species": a["species"], "box": box, "kp": {}}


def write(entries, clips, folder):
    (folder / "images").mkdir(parents=True, exist_ok=True)
    cut_out = []
    for clip in sorted({e["clip"] for e in entries}):
        wanted = [e for e in entries if e["clip"] == clip]
        film, frame = cv2.VideoCapture(str(clips / clip)), 0
        while frame <= max(e["frame"] for e in wanted):
            there, picture = film.read()
            if not there:
                raise SystemExit(f"{clip} ends before frame {frame}: another copy of the clip than was marked.")
            for i, entry in enumerate(e for e in wanted if e["frame"] == frame):
                cut_out.append(cut(picture, entry, f"images/{Path(clip).stem}-{frame:03d}-{i}.jpg", folder))
            frame += 1
    (folder / "labels.json").write_text(json.dumps({"images": cut_out}))
    return len(cut_out)


if __name__ == "__main__":
    ask = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    ask.add_argument("labels", type=Path)
    ask.add_argument("clips", type=Path)
    ask.add_argument("out", type=Path)
    ask.add_argument("--between", type=Path, metavar="FRAMES")
    given = ask.parse_args()
    marked = json.loads(given.labels.read_text())["frames"]
    print(f"{write(marked, given.clips, given.out)} marked frames in {given.out}")
    if given.between:
        print(f"{write(list(between(marked)), given.clips, given.between)} frames between them in {given.between}")

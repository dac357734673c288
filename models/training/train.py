"""Trains the paw network for a given time, and goes on where it stopped when called again.

    python3 train.py --labelled PHOTOS --grounds GROUNDS --out OUT --minutes 9 --human-pose POSE.json

Three kinds of pictures make up a batch: labelled photographs (and labelled video frames, --video), rendered bodies
of two renderers, and pictures without a dog. With --teacher a larger trained network fills in what labels leave
open and speaks for unlabelled video frames (--frames). The weights written are an average over the last steps.
"""

import argparse
import copy
import json
import math
import time
from pathlib import Path

import numpy as np
import torch
import torch.nn.functional as F

from batches import Batches, Producers, read_sources
from evaluate import maps_of, measure, measure_labelled, trait_accuracy
from graph_file import GraphFile
from maps import HEAT, MAPS, OTHER_ENDS, STRIDE
from network import PawNet, load_human_pose

# A cell on a point counts this much more than an empty one, which there are far more of.
POINT_WEIGHT = 25
# A cell on a fore paw that is called a hind paw counts this share of a missed point, and so on up the legs.
EXCHANGE_WEIGHT = 0.5
OTHER_END = [HEAT.index(m) for m in OTHER_ENDS]
# Rows of the crops that the app gives the network (src/paws/crop.ts), as a share of their width; whole 32nds of the picture.
LOW_SHARE = 160 / 224


def on_points(heat):
    """How much each cell counts: more on the map's own points, and on those it could be taken for."""
    return 1 + POINT_WEIGHT * torch.maximum(heat, EXCHANGE_WEIGHT * heat[:, OTHER_END])


def loss_of(logits, heat, weight, trait, trait_weight, hint=None, hint_weight=0.0, real=0):
    """Weighted cross-entropy; `hint` are a teacher's maps for the first `real` pictures."""
    k = len(HEAT)
    bce = F.binary_cross_entropy_with_logits
    loss = (bce(logits[:, :k], heat, reduction="none") * weight * on_points(heat)).sum((2, 3)).mean() / 10
    traits = bce(logits[:, k:], trait, reduction="none") * trait_weight
    loss = loss + (traits.sum((0, 2, 3)) / (trait_weight.sum((0, 2, 3)) + 1)).sum()
    if hint is not None:
        own = logits[:real]
        open_ = hint_weight + (1 - weight[:real]).clamp(0, 1)
        far_off = bce(own[:, :k], hint[:, :k], reduction="none") * open_ * on_points(hint[:, :k])
        loss = loss + far_off.sum((2, 3)).mean() / 10 * (real / len(logits))
        # Traits where the teacher sees a point; the mask everywhere.
        near = hint[:, :k].amax(1, keepdim=True)
        where = torch.cat([near.expand(-1, 3, -1, -1), torch.ones_like(near)], 1) * (1 - trait_weight[:real])
        taught = bce(own[:, k:], hint[:, k:], reduction="none") * where
        loss = loss + 0.5 * (taught.sum((0, 2, 3)) / (where.sum((0, 2, 3)) + 1)).sum()
    return loss


def build(given, device):
    if given.resume:
        stored = torch.load(given.resume, map_location="cpu")
        net = PawNet(**stored["config"])
        net.load_state_dict(stored["weights"])
    else:
        net = PawNet(width=given.width, head=given.head, deep=given.deep, context=given.context)
        if given.human_pose:
            load_human_pose(net, GraphFile(given.human_pose))
    for block in net.blocks:
        block.skip = given.skip
    return net.to(device).to(memory_format=torch.channels_last)


def lowered(picture, *maps):
    """The same strip, as low as the app's crops, cut from all pictures of a batch and from its maps."""
    cells = picture.shape[-1] // STRIDE
    rows = 8 * round(cells * LOW_SHARE / 8)
    top = int(torch.randint(0, cells - rows + 1, ()))
    strip = lambda m, scale: None if m is None else m[:, :, top * scale : (top + rows) * scale]  # noqa: E731
    return strip(picture, STRIDE), *(strip(m, 1) for m in maps)


class Again:
    """Batches used a second time some steps later, mirrored: making one takes longer than learning from it."""

    LEFT = MAPS.index("left") - len(HEAT)

    def __init__(self, batches, share, room=24):
        self.batches, self.share, self.room, self.kept = batches, share, room, []

    def next(self, n):
        if len(self.kept) >= self.room and torch.rand(()) < self.share:
            return self.mirrored(self.kept.pop(int(torch.randint(0, len(self.kept), ()))))
        batch = self.batches.next(n)
        if self.share > 0:
            # A producer's tensors are its own to free.
            self.kept = self.kept[-self.room :] + [[m.clone() if torch.is_tensor(m) else m for m in batch]]
        return batch

    def mirrored(self, batch):
        *maps, real = batch
        picture, heat, weight, trait, trait_weight, hint = (None if m is None else m.flip(-1) for m in maps)
        trait[:, self.LEFT] = 1 - trait[:, self.LEFT]
        if hint is not None:
            hint[:, MAPS.index("left")] = 1 - hint[:, MAPS.index("left")]
        return picture, heat, weight, trait, trait_weight, hint, real


def save(net, path):
    weights = {k: v.detach().half().cpu() for k, v in net.state_dict().items()}
    torch.save({"config": net.config, "weights": weights}, path)


def train(given):
    device = "cuda" if torch.cuda.is_available() else "cpu"
    torch.manual_seed(given.seed)
    np.random.seed(given.seed)
    torch.backends.cudnn.benchmark = True
    # Trying every way of every layer took most of a minute.
    torch.backends.cudnn.benchmark_limit = 3
    torch.set_float32_matmul_precision("high")
    out = Path(given.out)
    out.mkdir(parents=True, exist_ok=True)
    log = open(out / f"{given.name}.log", "a")

    def say(*words):
        line = " ".join(str(w) for w in words)
        print(given.name, line, flush=True)
        log.write(line + "\n")
        log.flush()

    begun = time.time()
    net = build(given, device).train()
    average = copy.deepcopy(net).eval()
    forward = torch.compile(net) if given.compile else net
    sources = read_sources(given, device)
    say(f"{sum(p.numel() for p in net.parameters())} parameters; {len(sources.photos)} photographs,",
        f"{len(sources.checks)} kept for checking; ready after {time.time() - begun:.0f} s")  # fmt: skip
    producers = Producers(given, sources) if given.producers else None
    batches = Again(producers or Batches(given, sources, device), given.again)
    decayed = [p for p in net.parameters() if p.dim() > 1]
    plain = [p for p in net.parameters() if p.dim() <= 1]
    groups = [{"params": decayed, "weight_decay": given.decay}, {"params": plain, "weight_decay": 0}]
    optimiser = torch.optim.AdamW(groups, lr=given.rate, **({"fused": True} if device != "cpu" else {}))
    # The time given counts from the call, so that a run fits its slot whatever starting costs.
    end = begun + given.minutes * 60
    step, started = 0, None
    while time.time() < end and (given.steps == 0 or step < given.steps):
        picture, heat, weight, trait, trait_weight, hint, real = batches.next(given.batch)
        if torch.rand(()) < given.low:
            picture, *maps = lowered(picture, heat, weight, trait, trait_weight, hint)
            heat, weight, trait, trait_weight, hint = maps
        if started is None:
            started = time.time()
            say(f"first batch after {started - begun:.0f} s")
        done = max((time.time() - started) / max(1.0, end - started), step / given.steps if given.steps else 0)
        rate = given.rate * min(1, (step + 1) / given.warm) * (0.5 * (1 + math.cos(math.pi * min(1, done))) * 0.98 + 0.02)
        for group in optimiser.param_groups:
            group["lr"] = rate
        with torch.autocast(device, dtype=torch.bfloat16, enabled=device != "cpu"):
            logits = forward(picture.contiguous(memory_format=torch.channels_last))
        loss = loss_of(logits.float(), heat, weight, trait, trait_weight, hint, given.hint, real)
        del picture, heat, weight, trait, trait_weight, hint
        optimiser.zero_grad(set_to_none=True)
        loss.backward()
        torch.nn.utils.clip_grad_norm_(net.parameters(), 5.0)
        optimiser.step()
        step += 1
        keep = min(0.9995, (1 + step) / (20 + step))
        with torch.no_grad():
            torch._foreach_mul_(list(average.parameters()), keep)
            torch._foreach_add_(list(average.parameters()), list(net.parameters()), alpha=1 - keep)
        if step == 1 or step % given.every == 0:
            say(f"step {step}, {time.time() - begun:.0f} s, {step * given.batch / (time.time() - started):.0f} pictures/s,",
                f"loss {loss.item():.3f}, rate {rate:.1e}")  # fmt: skip
        if step % (given.every * 6) == 0:
            short(say, average, sources, given)
            save(average, out / f"{given.name}.pt")
    save(average, out / f"{given.name}.pt")
    say(f"{step} steps, saved after {time.time() - begun:.0f} s")
    if producers:
        producers.close()
    final(say, average, sources, given)


def short(say, net, sources, given):
    rows = {}
    for kind, data in (("", sources.checks), ("video ", sources.video_checks)):
        if data is not None and len(data):
            result = measure_labelled(net, data, given.size)
            rows.update({kind + k: [result[k]["0.05"], result[k]["0.1"]] for k in ("forePaw", "hindPaw") if k in result})
    say(json.dumps(rows))


def final(say, net, sources, given):
    say("photographs", json.dumps(measure_labelled(net, sources.checks, given.size)))
    if sources.video_checks is not None and len(sources.video_checks):
        say("video", json.dumps(measure_labelled(net, sources.video_checks, given.size)))
    if given.shares["rendered"] == 0:
        return
    torch.manual_seed(12345)
    for renderer in Batches(given, sources, sources.grounds.device.type).rendered.renderers:
        picture, _, points, seen, far, left, contact = renderer(given.refill)
        length = (points.amax((1, 2)) - torch.where(seen[..., None] != 0, points, torch.full_like(points, 1e4)).amin((1, 2))).amax(1)
        maps = maps_of(net, picture)
        result = {**measure(maps, points, seen, far, length), **trait_accuracy(maps, points, seen, (contact, far, left))}
        say(type(renderer).__name__, json.dumps(result))


def arguments():
    ask = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    ask.add_argument("--name", default="paws")
    ask.add_argument("--labelled", required=True, help="folder with labels.json and pictures")
    ask.add_argument("--video", help="the same, of video frames; entries with heldOut are for checking only")
    ask.add_argument("--frames", help="the same, with boxes only: a teacher's frames")
    ask.add_argument("--grounds", required=True, help="folder of square photographs without animals")
    ask.add_argument("--out", required=True)
    ask.add_argument("--minutes", type=float, default=8)
    ask.add_argument("--steps", type=int, default=0, help="stop after so many steps (0: by time only)")
    ask.add_argument("--human-pose", help="JSON of the human-pose graph to start from")
    ask.add_argument("--resume", help="weights of an earlier call")
    ask.add_argument("--teacher", action="append", default=[], help="FILE.pt or FILE.pt:SIZE; may be given again")
    ask.add_argument("--spotter", help="weights that say where the animals are, to cut them out of their pictures")
    ask.add_argument("--motion", help="folder of recorded motion (recorded.py)")
    ask.add_argument("--hint", type=float, default=0.3, help="weight of the teacher where labels speak too")
    ask.add_argument("--size", type=int, default=224)
    ask.add_argument("--low", type=float, default=0.0, help="share of batches cut to the app's low crops")
    ask.add_argument("--width", type=float, default=1.0)
    ask.add_argument("--head", type=int, default=96)
    ask.add_argument("--deep", type=int, default=1280)
    ask.add_argument("--context", type=int, nargs=2, default=(0, 0))
    ask.add_argument("--skip", type=float, default=0.0, help="how often a residual block is left out while training")
    ask.add_argument("--compile", action="store_true", help="compile the network: worth it from some minutes on")
    ask.add_argument("--batch", type=int, default=192)
    ask.add_argument("--rate", type=float, default=1e-3)
    ask.add_argument("--warm", type=int, default=300, help="steps until the full rate")
    ask.add_argument("--decay", type=float, default=0.02)
    ask.add_argument("--producers", type=int, default=4 if torch.cuda.is_available() else 0, help="processes that make batches")
    ask.add_argument("--reservoir", type=int, default=12000)
    ask.add_argument("--again", type=float, default=0.0, help="share of steps on batches used before, mirrored")
    ask.add_argument("--refill", type=int, default=32)
    ask.add_argument("--every", type=int, default=200)
    ask.add_argument("--seed", type=int, default=1)
    ask.add_argument("--rendered", type=float, default=0.26, help="share of rendered pictures in a batch")
    ask.add_argument("--empty", type=float, default=0.04, help="share of pictures without a dog")
    ask.add_argument("--video-share", type=float, default=0.08)
    ask.add_argument("--frames-share", type=float, default=0.06)
    given = ask.parse_args()
    given.shares = {"photos": 0, "video": given.video_share, "frames": given.frames_share, "rendered": given.rendered, "empty": given.empty}
    return given


if __name__ == "__main__":
    assert len(MAPS) == 16
    train(arguments())

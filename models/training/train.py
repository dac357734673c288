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

import cv2
import numpy as np
import torch
import torch.nn.functional as F

from degrade import degrade, grow_grass, hide
from evaluate import measure, measure_labelled, maps_of, trait_accuracy
from graph_file import GraphFile
from labelled import cut_crops, find_covers, is_validation, read_labelled, sharpened
from maps import HEAT, MAPS, STRIDE
from network import PawNet, load_human_pose
from painted import PaintedPictures
from recorded import Recorded
from scenes import photo_ground
from targets import heat_targets, mask_from_labels, trait_targets
from traced import TracedPictures

# A cell on a point counts this much more than an empty one, which there are far more of.
POINT_WEIGHT = 25
# Of the labelled pictures, how many animals are cut out and stood in a rendered scene, and how many get company.
SCENE_SHARE, COMPANY_SHARE = 0.15, 0.08
LEFT = MAPS.index("left")


class Reservoir:
    """Rendered pictures kept on the device; each is used a few times, in different weather, before it is replaced."""

    def __init__(self, renderers, capacity, device):
        self.renderers, self.capacity, self.turn = renderers, capacity, 0
        self.fields = None
        self.filled = 0
        self.device = device

    def refill(self, n):
        renderer = self.renderers[self.turn % len(self.renderers)]
        picture, mask, *labels = renderer(n)
        new = [(picture * 255).byte(), F.avg_pool2d(mask, STRIDE), *labels]
        if self.fields is None:
            self.fields = [torch.zeros(self.capacity, *f.shape[1:], dtype=f.dtype, device=self.device) for f in new]
        at = (torch.arange(n, device=self.device) + self.turn * n) % self.capacity
        for field, values in zip(self.fields, new):
            field[at] = values
        self.turn += 1
        self.filled = min(self.capacity, self.turn * n)

    def draw(self, n):
        at = torch.randint(0, self.filled, (n,), device=self.device)
        picture, mask, points, seen, far, left, contact = (f[at] for f in self.fields)
        return picture.float() / 255, mask, points, seen, far, left, contact


def with_second_dog(drawn, chance=0.08):
    """Now and then another picture's body in front; both bodies' points are kept."""
    picture, mask, points, seen, far, left, contact = drawn
    n, device = picture.shape[0], picture.device
    order = torch.randperm(n, device=device)
    on = (torch.rand(n, device=device) < chance)[:, None, None, None]
    cover = F.interpolate(mask[order], size=picture.shape[2:], mode="bilinear") * on
    picture = picture * (1 - cover) + picture[order] * cover
    both = torch.maximum(mask, mask[order] * on)
    at = points.long().clamp(0, picture.shape[-1] - 1)
    rows = torch.arange(n, device=device)[:, None, None]
    under = cover[rows, 0, at[..., 1], at[..., 0]] > 0.5
    seen = torch.where(under & (seen == 2), torch.ones_like(seen), seen)
    on3 = on[:, :, :, 0]
    join = lambda f, empty: torch.cat([f, torch.where(on3 if f.dim() == 3 else on, f[order], torch.full_like(f, empty))], 2)  # noqa: E731
    return picture, both, join(points, 0), join(seen, 0), join(far, -1), join(left, -1), join(contact, -1)


class Scenes:
    """Poles, stands and a handler's legs without a dog, kept on the device and replaced a few at a time."""

    def __init__(self, renderer, capacity):
        self.renderer, self.at = renderer, 0
        self.pictures = (torch.cat([renderer.without_body(8) for _ in range(max(1, capacity // 8))]) * 255).byte()

    def refill(self, n=8):
        self.pictures[self.at : self.at + n] = (self.renderer.without_body(n) * 255).byte()
        self.at = (self.at + n) % len(self.pictures)

    def draw(self, n):
        return self.pictures[torch.randint(0, len(self.pictures), (n,), device=self.pictures.device)].float() / 255


def joined_by(picture, points, seen, traits, box, cut):
    """The second half's animals moved aside and laid over the first half's pictures; both keep their points.

    Returns the first half's picture, points [m, maps, 4, 2], seen, traits and the box around both.
    """
    m, size, device = len(picture) // 2, picture.shape[-1], picture.device
    aside = (torch.rand(m, device=device) * 0.5 + 0.25) * torch.where(torch.rand(m, device=device) < 0.5, -1.0, 1.0)
    shift = torch.stack([aside, torch.randn(m, device=device) * 0.05], -1) * size
    view = torch.zeros(m, 2, 3, device=device)
    view[:, 0, 0] = view[:, 1, 1] = 1
    view[:, :, 2] = -shift * 2 / size
    grid = F.affine_grid(view, (m, 3, size, size), align_corners=False)
    moved = F.grid_sample(picture[m:], grid, align_corners=False, padding_mode="border")
    over = F.grid_sample(cut[m:], grid, align_corners=False, padding_mode="zeros")
    other = points[m:] + shift[:, None, None]
    within = ((other > 1) & (other < size - 2)).all(-1)
    other_seen = torch.where(within | (seen[m:] == 0), seen[m:], torch.full_like(seen[m:], -1))
    at = points[:m].long().clamp(0, size - 1)
    under = over[torch.arange(m, device=device)[:, None, None], 0, at[..., 1], at[..., 0]] > 0.5
    own_seen = torch.where(under & (seen[:m] == 2), torch.ones_like(seen[:m]), seen[:m])
    moved_box = box[m:] + shift.repeat(1, 2)
    both = torch.cat([torch.minimum(box[:m, :2], moved_box[:, :2]), torch.maximum(box[:m, 2:], moved_box[:, 2:])], 1)
    pair = lambda f: torch.cat([f[:m], f[m:]], 2)  # noqa: E731
    return (
        picture[:m] * (1 - over) + moved * over,
        torch.cat([points[:m], other], 2),
        torch.cat([own_seen, other_seen], 2),
        [pair(t) for t in traits],
        both,
    )


class Batches:
    """Makes one training batch: clean pictures with targets and weights for every map."""

    def __init__(self, given, device, spotter=None):
        self.size, self.side, self.device = given.size, given.size // STRIDE, device
        files = sorted(Path(given.grounds).glob("*.jpg"))
        grounds = [torch.from_numpy(cv2.imread(str(f))[..., ::-1].copy()).permute(2, 0, 1) for f in files]
        self.grounds = torch.stack(grounds).to(device)
        train = lambda e: not (e["species"] == "dog" and is_validation(e["file"]))  # noqa: E731
        check = lambda e: e["species"] == "dog" and is_validation(e["file"])  # noqa: E731
        self.photos = read_labelled(given.labelled, device, train)
        self.checks = read_labelled(given.labelled, device, check)
        self.video = read_labelled(given.video, device, lambda e: not e.get("heldOut")) if given.video else None
        self.video_checks = read_labelled(given.video, device, lambda e: e.get("heldOut")) if given.video else None
        self.frames = read_labelled(given.frames, device) if given.frames else None
        if spotter is not None:
            for data in filter(None, (self.photos, self.video)):
                find_covers(data, spotter, self.size)
        recorded = Recorded(given.motion, device) if given.motion else None
        renderers = [renderer(self.grounds, self.size, recorded) for renderer in (TracedPictures, PaintedPictures)]
        self.rendered = Reservoir(renderers, given.reservoir, device)
        self.scenes = Scenes(renderers[1], given.reservoir // 40)
        self.refill = given.refill
        self.shares, self.turn = given.shares, 0

    def finish(self, picture, points, seen, traits, all_labelled, box, mask, mask_weight, animals=1):
        n = len(picture)
        picture, seen = hide(picture, points, seen, photo_ground(self.grounds, n, self.size))
        picture = grow_grass(picture, points, seen)
        heat, weight = heat_targets(points, seen, self.side, all_labelled, box, animals)
        trait, trait_weight = trait_targets(points, seen, traits, self.side)
        return picture, heat, weight, torch.cat([trait, mask], 1), torch.cat([trait_weight, mask_weight], 1)

    def from_labels(self, data, n):
        company = round(COMPANY_SHARE * n) if data.cover is not None else 0
        n += company
        picture, points, seen, contact, far, left, box, _, cover = cut_crops(data, self.grounds, n, self.size)
        traits = [contact, far, left]
        alone = slice(2 * company, n)
        if data.cover is not None:
            moved = 2 * company + round(SCENE_SHARE * n)
            cut = sharpened(cover[:moved], points[:moved], seen[:moved], self.size)
            scene = self.scenes.draw(moved - 2 * company)
            here = slice(2 * company, moved)
            picture[here] = picture[here] * cut[here] + scene * (1 - cut[here])
        parts = [self.with_labels(picture[alone], points[alone], seen[alone], [t[alone] for t in traits], box[alone], 1)]
        if company:
            two = slice(0, 2 * company)
            joined = joined_by(picture[two], points[two], seen[two], [t[two] for t in traits], box[two], cut[two])
            parts.append(self.with_labels(*joined, 2))
        return [torch.cat(f) for f in zip(*parts)]

    def with_labels(self, picture, points, seen, traits, box, animals):
        mask, mask_weight = mask_from_labels(points, seen, box, self.side)
        no = torch.zeros(len(picture), dtype=torch.bool, device=self.device)
        return self.finish(picture, points, seen, traits, no, box, mask, mask_weight, animals)

    def from_renderers(self, n):
        drawn = with_second_dog(self.rendered.draw(n))
        picture, mask, points, seen, far, left, contact = drawn
        yes = torch.ones(n, dtype=torch.bool, device=self.device)
        return self.finish(picture, points, seen, (contact, far, left), yes, None, mask, torch.ones_like(mask))

    def without_dog(self, n):
        points = torch.zeros(n, len(HEAT), 2, 2, device=self.device)
        seen = torch.zeros(n, len(HEAT), 2, dtype=torch.long, device=self.device)
        none = torch.full(seen.shape, -1.0, device=self.device)
        mask = torch.zeros(n, 1, self.side, self.side, device=self.device)
        yes = torch.ones(n, dtype=torch.bool, device=self.device)
        # Half of them with poles and stands: their ends look like paws to a network that has not seen enough of them.
        picture = photo_ground(self.grounds, n, self.size)
        picture[: n // 2] = self.scenes.draw(n // 2)
        return self.finish(picture, points, seen, (none, none, none), yes, None, mask, torch.ones_like(mask))

    def next(self, n):
        """Pictures [n, 3, s, s], heat and its weight, traits with mask and their weight, and how many are real."""
        if self.turn % 3 == 0 and self.shares["rendered"] > 0:
            self.rendered.refill(self.refill)
            self.scenes.refill()
        self.turn += 1
        share = {k: round(v * n) for k, v in self.shares.items()}
        if self.video is None:
            share["photos"] += share.pop("video", 0)
        if self.frames is None:
            share["photos"] += share.pop("frames", 0)
        share["photos"] = n - sum(v for k, v in share.items() if k != "photos")
        parts = [self.from_labels(self.photos, share["photos"])]
        if share.get("video"):
            parts.append(self.from_labels(self.video, share["video"]))
        if share.get("frames"):
            parts.append(self.from_labels(self.frames, share["frames"]))
        real = sum(len(p[0]) for p in parts)
        if share["rendered"]:
            parts.append(self.from_renderers(share["rendered"]))
        parts.append(self.without_dog(share["empty"]))
        return [torch.cat(f) for f in zip(*parts)], real


def loss_of(logits, heat, weight, trait, trait_weight, hint=None, hint_weight=0.0, real=0):
    """Weighted cross-entropy; `hint` are a teacher's maps for the first `real` pictures."""
    k = len(HEAT)
    bce = F.binary_cross_entropy_with_logits
    loss = (bce(logits[:, :k], heat, reduction="none") * weight * (1 + POINT_WEIGHT * heat)).sum((2, 3)).mean() / 10
    traits = bce(logits[:, k:], trait, reduction="none") * trait_weight
    loss = loss + (traits.sum((0, 2, 3)) / (trait_weight.sum((0, 2, 3)) + 1)).sum()
    if hint is not None:
        own = logits[:real]
        open_ = hint_weight + (1 - weight[:real]).clamp(0, 1)
        far_off = bce(own[:, :k], hint[:, :k], reduction="none") * open_ * (1 + POINT_WEIGHT * hint[:, :k])
        loss = loss + far_off.sum((2, 3)).mean() / 10 * (real / len(logits))
        # Traits where the teacher sees a point; the mask everywhere.
        near = hint[:, :k].amax(1, keepdim=True)
        where = torch.cat([near.expand(-1, 3, -1, -1), torch.ones_like(near)], 1) * (1 - trait_weight[:real])
        taught = bce(own[:, k:], hint[:, k:], reduction="none") * where
        loss = loss + 0.5 * (taught.sum((0, 2, 3)) / (where.sum((0, 2, 3)) + 1)).sum()
    return loss


class Teachers:
    """Larger networks asked together, one on the picture as it is and the next on its mirror image."""

    def __init__(self, given, device):
        """given: "FILE.pt" or "FILE.pt:SIZE", the size being the picture's side that it was trained on."""
        self.nets = []
        for name in given:
            path, _, size = name.partition(":")
            self.nets.append((load_net(path, device), int(size or 256)))
        if len(self.nets) == 1:
            self.nets *= 2
        self.turn = 0

    @torch.no_grad()
    def __call__(self, picture, side):
        """Probabilities [n, maps, side, side]."""
        self.turn += 1
        total = 0
        for i, (net, size) in enumerate(self.nets):
            mirrored = (self.turn + i) % 2 == 0
            asked = F.interpolate(picture, size=(size, size), mode="bilinear")
            asked = (asked.flip(-1) if mirrored else asked).contiguous(memory_format=torch.channels_last)
            with torch.autocast(picture.device.type, dtype=torch.bfloat16, enabled=picture.is_cuda):
                said = net(asked)
            said = F.interpolate(torch.sigmoid(said.float()), size=(side, side), mode="bilinear")
            if mirrored:
                said = said.flip(-1)
                said[:, LEFT] = 1 - said[:, LEFT]
            total = total + said
        return total / len(self.nets)


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


def load_net(path, device):
    stored = torch.load(path, map_location="cpu")
    net = PawNet(**stored["config"])
    net.load_state_dict({k: v.float() for k, v in stored["weights"].items()})
    return net.to(device).to(memory_format=torch.channels_last).eval()


def save(net, path):
    weights = {k: v.detach().half().cpu() for k, v in net.state_dict().items()}
    torch.save({"config": net.config, "weights": weights}, path)


def train(given):
    device = "cuda" if torch.cuda.is_available() else "cpu"
    torch.manual_seed(given.seed)
    np.random.seed(given.seed)
    torch.backends.cudnn.benchmark = True
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
    teachers = Teachers(given.teacher, device) if given.teacher else None
    batches = Batches(given, device, load_net(given.spotter, device) if given.spotter else None)
    say(f"{sum(p.numel() for p in net.parameters())} parameters; {len(batches.photos)} photographs,",
        f"{len(batches.checks)} kept for checking; ready after {time.time() - begun:.0f} s")  # fmt: skip
    decayed = [p for p in net.parameters() if p.dim() > 1]
    plain = [p for p in net.parameters() if p.dim() <= 1]
    optimiser = torch.optim.AdamW(
        [{"params": decayed, "weight_decay": given.decay}, {"params": plain, "weight_decay": 0}], lr=given.rate, fused=device != "cpu"
    )
    if given.shares["rendered"] > 0:
        for _ in range(max(1, 512 // given.refill) if device != "cpu" else 2):
            batches.rendered.refill(given.refill)
    say(f"renderers ready after {time.time() - begun:.0f} s")
    # The time given counts from the call, so that a run fits its slot whatever starting costs.
    end = begun + given.minutes * 60
    step, looked, started = 0, 0, time.time()
    while time.time() < end and (given.steps == 0 or step < given.steps):
        done = min(1.0, (time.time() - started) / max(1.0, end - started))
        rate = given.rate * min(1, (step + 1) / given.warm) * (0.5 * (1 + math.cos(math.pi * done)) * 0.98 + 0.02)
        for group in optimiser.param_groups:
            group["lr"] = rate
        (picture, heat, weight, trait, trait_weight), real = batches.next(given.batch)
        hint = teachers(picture[:real], batches.side) if teachers else None
        # Degrading goes by place in the batch, and the batch comes sorted by kind.
        order = torch.randperm(len(picture), device=device)
        picture = degrade(picture[order]).contiguous(memory_format=torch.channels_last)
        with torch.autocast(device, dtype=torch.bfloat16, enabled=device != "cpu"):
            logits = forward(picture)
        logits = logits[torch.argsort(order)]
        loss = loss_of(logits.float(), heat, weight, trait, trait_weight, hint, given.hint, real)
        optimiser.zero_grad(set_to_none=True)
        loss.backward()
        torch.nn.utils.clip_grad_norm_(net.parameters(), 5.0)
        optimiser.step()
        step += 1
        keep = min(0.9995, (1 + step) / (20 + step))
        with torch.no_grad():
            torch._foreach_lerp_(list(average.parameters()), list(net.parameters()), 1 - keep)
        if step == 1 or step % given.every == 0:
            say(f"step {step}, {time.time() - begun:.0f} s, {step * given.batch / (time.time() - started):.0f} pictures/s,",
                f"loss {loss.item():.3f}, rate {rate:.1e}")  # fmt: skip
        if step % (given.every * 6) == 0:
            short(say, average, batches, given)
            save(average, out / f"{given.name}.pt")
    save(average, out / f"{given.name}.pt")
    final(say, average, batches, given)


def short(say, net, batches, given):
    result = measure_labelled(net, batches.checks, given.size)
    rows = {k: [result[k]["0.05"], result[k]["0.1"]] for k in ("forePaw", "hindPaw") if k in result}
    if batches.video_checks is not None and len(batches.video_checks):
        video = measure_labelled(net, batches.video_checks, given.size)
        rows.update({f"video {k}": [video[k]["0.05"], video[k]["0.1"]] for k in ("forePaw", "hindPaw") if k in video})
    say(json.dumps(rows))


def final(say, net, batches, given):
    say("photographs", json.dumps(measure_labelled(net, batches.checks, given.size)))
    if batches.video_checks is not None and len(batches.video_checks):
        say("video", json.dumps(measure_labelled(net, batches.video_checks, given.size)))
    torch.manual_seed(12345)
    for renderer in batches.rendered.renderers if given.shares["rendered"] > 0 else []:
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
    ask.add_argument("--reservoir", type=int, default=12000)
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

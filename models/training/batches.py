"""Training batches: labelled pictures, rendered ones and pictures without a dog, with what the maps should say.

On a GPU several processes make them while the network learns; elsewhere they are made in between.
"""

from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
import torch
import torch.multiprocessing as multiprocessing
import torch.nn.functional as F

from degrade import degrade, grow_grass, hide
from labelled import Labelled, cut_crops, find_covers, is_validation, read_labelled, sharpened
from maps import HEAT, MAPS, STRIDE
from network import PawNet
from painted import PaintedPictures
from recorded import Recorded
from scenes import photo_ground
from targets import heat_targets, mask_from_labels, trait_targets
from traced import TracedPictures

# Of the labelled pictures, how many animals are cut out and stood in a rendered scene, and how many get company.
SCENE_SHARE, COMPANY_SHARE = 0.15, 0.08
# Batches used before more pictures are rendered.
REFILL_EVERY = 3
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


@dataclass
class Sources:
    """Everything read from disk, on the device."""

    photos: Labelled
    checks: Labelled
    video: Labelled
    video_checks: Labelled
    frames: Labelled
    grounds: torch.Tensor
    recorded: Recorded


def read_grounds(folder, device):
    files = sorted(Path(folder).glob("*.jpg"))
    grounds = [torch.from_numpy(cv2.imread(str(f))[..., ::-1].copy()).permute(2, 0, 1) for f in files]
    return torch.stack(grounds).to(device)


def read_sources(given, device):
    is_check = lambda e: e["species"] == "dog" and is_validation(e["file"])  # noqa: E731
    read = lambda folder, only=None: read_labelled(folder, device, only) if folder else None  # noqa: E731
    sources = Sources(
        read(given.labelled, lambda e: not is_check(e)),
        read(given.labelled, is_check),
        read(given.video, lambda e: not e.get("heldOut")),
        read(given.video, lambda e: e.get("heldOut")),
        read(given.frames),
        read_grounds(given.grounds, device),
        Recorded(given.motion, device) if given.motion else None,
    )
    if given.spotter:
        spotter = load_net(given.spotter, device)
        for data in filter(None, (sources.photos, sources.video)):
            find_covers(data, spotter, given.size)
    return sources


class Batches:
    """Makes one training batch at a time."""

    def __init__(self, given, sources, device):
        self.size, self.side, self.device = given.size, given.size // STRIDE, device
        self.sources, self.grounds = sources, sources.grounds
        renderers = [renderer(self.grounds, self.size, sources.recorded) for renderer in (TracedPictures, PaintedPictures)]
        capacity = given.reservoir // max(1, given.producers)
        self.rendered = Reservoir(renderers, capacity, device)
        self.scenes = Scenes(renderers[1], capacity // 20)
        self.refill = given.refill
        self.shares, self.turn = given.shares, 0
        self.teachers = Teachers(given.teacher, device) if given.teacher else None
        if self.shares["rendered"] > 0:
            for _ in range(max(1, 512 // given.refill) if device != "cpu" else 2):
                self.rendered.refill(given.refill)

    def from_labels(self, data, n):
        """Parts as `next` joins them: one of lone animals, and one of pairs where animals can be cut out."""
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
        lone = (picture[alone], points[alone], seen[alone], [t[alone] for t in traits], box[alone])
        parts = [self.part(*lone, animals=1)]
        if company:
            two = slice(0, 2 * company)
            joined = joined_by(picture[two], points[two], seen[two], [t[two] for t in traits], box[two], cut[two])
            parts.append(self.part(*joined, animals=2))
        return parts

    def from_renderers(self, n):
        picture, mask, points, seen, far, left, contact = with_second_dog(self.rendered.draw(n))
        return self.part(picture, points, seen, [contact, far, left], None, 2, mask)

    def without_dog(self, n):
        points = torch.zeros(n, len(HEAT), 2, 2, device=self.device)
        seen = torch.zeros(n, len(HEAT), 2, dtype=torch.long, device=self.device)
        none = torch.full(seen.shape, -1.0, device=self.device)
        # Half of them with poles and stands: their ends look like paws to a network that has not seen enough of them.
        picture = photo_ground(self.grounds, n, self.size)
        picture[: n // 2] = self.scenes.draw(n // 2)
        mask = torch.zeros(n, 1, self.side, self.side, device=self.device)
        return self.part(picture, points, seen, [none, none, none], None, 1, mask)

    def part(self, picture, points, seen, traits, box, animals, mask=None):
        """With room for two animals in every picture, so that parts can be joined. A mask given means all is known."""
        n, known = len(picture), mask is not None
        room = lambda f, empty: f if f.shape[2] == 4 else torch.cat([f, torch.full_like(f, empty)], 2)  # noqa: E731
        if box is None:
            box = torch.tensor([0.0, 0, self.size, self.size], device=self.device).expand(n, 4)
        if mask is None:
            mask, mask_weight = mask_from_labels(points, seen, box, self.side)
        else:
            mask_weight = torch.ones_like(mask)
        known = torch.full((n,), known, device=self.device)
        animals = torch.full((n,), animals, device=self.device)
        contact, far, left = (room(t, -1) for t in traits)
        return picture, room(points, 0), room(seen, 0), contact, far, left, box, mask, mask_weight, known, animals

    def next(self, n):
        """Degraded pictures [n, 3, s, s], heat and its weight, traits with mask and their weight, the teachers' maps
        for the first, real ones (or None), and how many these are."""
        if self.turn % REFILL_EVERY == 0 and self.shares["rendered"] > 0:
            self.rendered.refill(self.refill)
            self.scenes.refill()
        self.turn += 1
        share = {k: round(v * n) for k, v in self.shares.items()}
        kinds = {"video": self.sources.video, "frames": self.sources.frames}
        share.update({k: 0 for k, data in kinds.items() if data is None})
        share["photos"] = n - sum(v for k, v in share.items() if k != "photos")
        parts = self.from_labels(self.sources.photos, share["photos"])
        for kind, data in kinds.items():
            if share[kind]:
                parts += self.from_labels(data, share[kind])
        real = sum(len(p[0]) for p in parts)
        if share["rendered"]:
            parts.append(self.from_renderers(share["rendered"]))
        parts.append(self.without_dog(share["empty"]))
        picture, points, seen, contact, far, left, box, mask, mask_weight, known, animals = (
            torch.cat(f) for f in zip(*parts)
        )
        picture, seen = hide(picture, points, seen, photo_ground(self.grounds, n, self.size))
        picture = grow_grass(picture, points, seen)
        heat, weight = heat_targets(points, seen, self.side, known, box, animals)
        trait, trait_weight = trait_targets(points, seen, (contact, far, left), self.side)
        hint = self.teachers(picture[:real], self.side) if self.teachers else None
        # Degrading goes by place in the batch, and the batch comes sorted by kind.
        order = torch.randperm(n, device=self.device)
        picture = degrade(picture[order])[torch.argsort(order)]
        return picture, heat, weight, torch.cat([trait, mask], 1), torch.cat([trait_weight, mask_weight], 1), hint, real


def produce(given, sources, seed, queue, done):
    torch.manual_seed(seed)
    torch.set_num_threads(1)
    torch.set_float32_matmul_precision("high")
    with torch.no_grad():
        batches = Batches(given, sources, "cuda")
        while not done.is_set():
            queue.put(batches.next(given.batch))
    # What was put must live until it was read.
    done.wait()


class Producers:
    """Processes that make batches ahead on the same GPU; take them with `next`."""

    def __init__(self, given, sources):
        context = multiprocessing.get_context("spawn")
        self.queue, self.done = context.Queue(maxsize=given.producers + 1), context.Event()
        self.processes = [
            context.Process(target=produce, args=(given, sources, given.seed * 1000 + i, self.queue, self.done), daemon=True)
            for i in range(given.producers)
        ]
        for process in self.processes:
            process.start()

    def next(self, _):
        return self.queue.get()

    def close(self):
        self.done.set()
        for process in self.processes:
            process.terminate()


def load_net(path, device):
    stored = torch.load(path, map_location="cpu")
    net = PawNet(**stored["config"])
    net.load_state_dict({k: v.float() for k, v in stored["weights"].items()})
    return net.to(device).to(memory_format=torch.channels_last).eval()


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

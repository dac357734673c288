"""Trains the pad network for a given time, and goes on where it stopped when called again.

    python3 train_pads.py --labelled PHOTOS --grounds GROUNDS --out OUT --name pads --minutes 9

Most pictures are rendered, where the pad's place is exact. Some show labelled paws of real dogs: there the label is a
noisy sight of the pad, off by what people mark above it, both of which are learned with the network.
"""

import argparse
import copy
import math
import time
from pathlib import Path

import numpy as np
import torch

from batches import read_grounds
from labelled import is_validation, read_labelled
from pad_network import CELL, PATCH, SIDE, PadNet, place_of
from pad_scenes import Kept, RealPads, RenderedPads, weathered
from traced import TracedPictures

# How finely an answer is asked for, cells.
SPREAD = 0.5
# Of real labels so many are on another paw, or none.
ODD = 0.05


def loss_of(logits, pad, shown, spread, odd=0.0):
    """−log of the chance of a sighting at `pad` [n, 2] that is off by `spread` cells, or of none, under the answer; mean."""
    p = torch.log_softmax(logits.float(), 1)
    p, none = p[:, :-1], p[:, -1]
    j = (torch.arange(SIDE, device=pad.device) + 0.5) * CELL
    y, x = torch.meshgrid(j, j, indexing="ij")
    d2 = ((x.reshape(1, -1) - pad[:, :1]) ** 2 + (y.reshape(1, -1) - pad[:, 1:]) ** 2) / CELL**2
    said = torch.logsumexp(p - d2 / (2 * spread**2), 1) - 2 * torch.log(torch.as_tensor(spread)) - math.log(2 * math.pi)
    if odd > 0:
        said = torch.logaddexp(said + math.log(1 - odd), torch.full_like(said, math.log(odd / SIDE**2)))
        none = torch.logaddexp(none + math.log(1 - odd), torch.full_like(none, math.log(odd)))
    said = torch.where(shown == 1, said, none) * (shown >= 0)
    return -said.sum() / (shown >= 0).sum()


def mean_loss(logits, pad, shown):
    """How far the answer's mean lies from the pad, cells, robustly."""
    p = torch.softmax(logits[:, :-1].float(), 1).view(-1, SIDE, SIDE)
    at = (torch.arange(SIDE, device=pad.device) + 0.5) * CELL
    mean = torch.stack([(p.sum(1) * at).sum(1), (p.sum(2) * at).sum(1)], -1)
    off = torch.nn.functional.smooth_l1_loss(mean / CELL, pad / CELL, reduction="none").sum(1)
    return (off * (shown == 1)).sum() / (shown == 1).sum()


@torch.no_grad()
def measure(net, rendered, real, device, off):
    net.eval()
    with torch.autocast(device, torch.bfloat16, enabled=device == "cuda"):
        told = torch.cat([net(p) for p in rendered[0].split(1024)])
    at, sd, sure, paw = place_of(told)
    good = rendered[2] == 1
    none = rendered[2] == 0
    error = (at - rendered[1])[good]
    q = lambda v: [round(float(torch.quantile(v.abs().float(), s)), 2) for s in (0.5, 0.9, 0.97)]  # noqa: E731
    z = (error / sd[good].clamp_min(0.1))
    words = f"rendered px: across {q(error[:, 0])} down {q(error[:, 1])} bias {[round(v, 2) for v in error.mean(0).tolist()]} z {[round(v, 2) for v in z.std(0).tolist()]} paw told {float((paw[good] > 0.5).float().mean()):.3f} none told {float((paw[none] < 0.5).float().mean()):.3f}"
    if real is not None:
        told = torch.cat([net(p) for p in real[0].split(1024)])
        at, _, sure, paw = place_of(told)
        error = at - real[1] + off
        words += f" | real px: {q(torch.linalg.norm(error, dim=1))} across {q(error[:, 0])} down {q(error[:, 1])} paw told {float((paw > 0.5).float().mean()):.3f}"
    net.train()
    return words


def train(given):
    device = "cuda" if torch.cuda.is_available() else "cpu"
    torch.manual_seed(given.seed)
    np.random.seed(given.seed)
    torch.set_float32_matmul_precision("high")
    torch.backends.cudnn.benchmark = True
    begun = time.time()
    out = Path(given.out)
    out.mkdir(parents=True, exist_ok=True)
    net = PadNet(given.widths, given.hidden, given.depth)
    off, spread = torch.zeros(2), torch.tensor(math.log(2.0))
    if given.resume:
        stored = torch.load(given.resume, map_location="cpu")
        net = PadNet(**stored["config"])
        net.load_state_dict(stored["weights"])
        off, spread = stored["off"], stored["spread"]
    net = net.to(device).to(memory_format=torch.channels_last).train()
    off, spread = (torch.nn.Parameter(p.to(device)) for p in (off, spread))
    average = copy.deepcopy(net)
    photos = read_grounds(given.grounds, device)
    kept = Kept(RenderedPads(TracedPictures(photos, PATCH)), given.kept)
    real, film, check_real = None, None, None
    if given.labelled:
        real = RealPads(read_labelled(given.labelled, device, lambda e: not is_validation(e["file"])))
        held = RealPads(read_labelled(given.labelled, device, lambda e: is_validation(e["file"])))
        chosen = held.seen.nonzero().unbind(1)
        check_real = held.draw(len(chosen[0]), gentle=True, chosen=chosen)
    if given.video:
        film = RealPads(read_labelled(given.video, device, lambda e: not e.get("heldOut")))
    print(f"{sum(p.numel() for p in net.parameters())} parameters, {len(real.rows) if real else 0} photographs; ready after {time.time() - begun:.0f} s", flush=True)
    while kept.turn < given.kept // 8:
        kept.refill(given.refill)
    check = [torch.cat(parts) for parts in zip(*(kept.render(given.refill) for _ in range(given.checks)))]
    check[0] = weathered(check[0])
    print(f"first pictures after {time.time() - begun:.0f} s; of them {[round(float((check[2] == v).float().mean()), 2) for v in (1, 0, -1)]} with a paw, none, neither", flush=True)
    decayed = [p for p in net.parameters() if p.dim() > 1]
    plain = [p for p in net.parameters() if p.dim() <= 1]
    optimiser = torch.optim.AdamW(
        [{"params": decayed, "weight_decay": 0.02}, {"params": [*plain, off, spread], "weight_decay": 0}], lr=given.rate
    )
    end, started = begun + 60 * given.minutes, time.time()
    steps, told = 0, time.time()

    def save():
        weights = {k: v.detach().float().cpu() for k, v in average.state_dict().items()}
        torch.save({"config": net.config, "weights": weights, "off": off.detach().cpu(), "spread": spread.detach().cpu()}, out / f"{given.name}.pt")

    while time.time() < end and (given.steps is None or steps < given.steps):
        share = min(1.0, (time.time() - started) / (end - started))
        rate = given.rate * min(1, (steps + 1) / 200) * (0.02 + 0.98 * 0.5 * (1 + math.cos(math.pi * share)))
        for group in optimiser.param_groups:
            group["lr"] = rate
        if steps % given.every == 0:
            kept.refill(given.refill)
        picture, pad, shown = kept.draw(given.batch)
        count = given.batch
        if real:
            many = int(given.batch * given.real)
            drawn = [real.draw(many - (many // 4 if film else 0))] + ([film.draw(many // 4)] if film else [])
            photo, label, scale, labelled = (torch.cat(parts) for parts in zip(*drawn))
            picture = torch.cat([picture, photo])
        with torch.autocast(device, torch.bfloat16, enabled=device == "cuda"):
            logits = net(picture.contiguous(memory_format=torch.channels_last))
        loss = loss_of(logits[:count], pad, shown, SPREAD) + 0.3 * mean_loss(logits[:count], pad, shown)
        if real:
            # What is marked lies `off` (pixels of a picture of the usual size) from the pad.
            wanted = label - off / scale[:, None]
            loss = loss + 0.3 * loss_of(logits[count:], wanted, labelled, torch.exp(spread), ODD)
        optimiser.zero_grad(set_to_none=True)
        loss.backward()
        torch.nn.utils.clip_grad_norm_(net.parameters(), 5.0)
        optimiser.step()
        steps += 1
        with torch.no_grad():
            keep = min(0.998, 1 - 1 / (1 + steps / 4))
            for a, b in zip(average.state_dict().values(), net.state_dict().values()):
                if a.dtype.is_floating_point:
                    a.lerp_(b, 1 - keep)
        if time.time() - told > given.tell:
            told = time.time()
            print(f"{steps} steps, {told - begun:.0f} s, loss {float(loss):.3f}, label off {[round(v, 2) for v in off.tolist()]} spread {float(torch.exp(spread)):.2f}; {measure(average, check, check_real, device, off)}", flush=True)
            save()
    save()
    print(f"{steps} steps, {time.time() - begun:.0f} s; {measure(average, check, check_real, device, off)}", flush=True)


if __name__ == "__main__":
    ask = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    ask.add_argument("--labelled")
    ask.add_argument("--video", help="labelled frames, one in four of the labelled pictures")
    ask.add_argument("--grounds", required=True)
    ask.add_argument("--out", required=True)
    ask.add_argument("--name", default="pads")
    ask.add_argument("--minutes", type=float, default=9)
    ask.add_argument("--steps", type=int)
    ask.add_argument("--resume")
    whole = {"type": int, "nargs": "+"}
    ask.add_argument("--widths", default=(16, 24, 40), **whole)
    ask.add_argument("--hidden", default=(48, 72, 96, 120), **whole)
    ask.add_argument("--depth", default=(2, 3), **whole)
    ask.add_argument("--batch", type=int, default=1024)
    ask.add_argument("--real", type=float, default=0.25, help="labelled pictures for each rendered one")
    ask.add_argument("--kept", type=int, default=131072)
    ask.add_argument("--refill", type=int, default=256)
    ask.add_argument("--checks", type=int, default=8)
    ask.add_argument("--every", type=int, default=3, help="steps between renderings")
    ask.add_argument("--rate", type=float, default=2e-3)
    ask.add_argument("--tell", type=float, default=40)
    ask.add_argument("--seed", type=int, default=1)
    train(ask.parse_args())

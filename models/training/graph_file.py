"""Reads and writes tfjs graph models (a JSON of nodes and a file of float16 weights) without TensorFlow."""

import base64
import json
from pathlib import Path

import numpy as np
import torch

TYPES = {"float32": "DT_FLOAT", "int32": "DT_INT32"}


class GraphFile:
    """A graph model on disk, for the weights of its convolutions."""

    def __init__(self, json_path):
        path = Path(json_path)
        graph = json.loads(path.read_text())
        self.nodes = {node["name"]: node for node in graph["modelTopology"]["node"]}
        self.weights = {}
        for group in graph["weightsManifest"]:
            data = b"".join((path.parent / part).read_bytes() for part in group["paths"])
            at = 0
            for spec in group["weights"]:
                stored = np.dtype((spec.get("quantization") or {}).get("dtype") or spec["dtype"])
                count = int(np.prod(spec["shape"], dtype=np.int64))
                values = np.frombuffer(data, stored, count, at).reshape(spec["shape"])
                self.weights[spec["name"]] = values.astype(spec["dtype"])
                at += count * stored.itemsize

    def conv_weights(self, name):
        """Weight in PyTorch's layout and bias (or None) of the convolution node of that name."""
        node = self.nodes[name]
        inputs = [i.split(":")[0] for i in node["input"]]
        weight = torch.from_numpy(self.weights[inputs[1]].copy())
        order = (2, 3, 0, 1) if "Depthwise" in node["op"] else (3, 2, 0, 1)
        bias = torch.from_numpy(self.weights[inputs[2]].copy()).reshape(-1) if len(inputs) > 2 else None
        return weight.permute(*order).contiguous(), bias


class GraphWriter:
    """Collects nodes and weights; each method adds one node and returns its name."""

    def __init__(self):
        self.nodes, self.groups, self.count = [], [], 0

    def weights_in(self, file_name):
        """Weights added from here on go to that file."""
        self.groups.append({"path": file_name, "specs": [], "data": b""})

    def _name(self, stem):
        self.count += 1
        return f"{stem}_{self.count}"

    def placeholder(self, name, shape, dtype):
        dims = {"dim": [{"size": str(d)} for d in shape]}
        attr = {"dtype": {"type": TYPES[dtype]}, "shape": {"shape": dims}}
        self.nodes.append({"name": name, "op": "Placeholder", "attr": attr})
        return name

    def const(self, values, half=False):
        values = np.asarray(values)
        dtype = "int32" if values.dtype.kind in "iu" else "float32"
        name = self._name("const")
        spec = {"name": name, "shape": list(values.shape), "dtype": dtype}
        if half:
            spec["quantization"] = {"dtype": "float16"}
        stored = "<i4" if dtype == "int32" else "<f2" if half else "<f4"
        self.groups[-1]["specs"].append(spec)
        self.groups[-1]["data"] += values.astype(stored).tobytes()
        tensor = {"dtype": TYPES[dtype], "tensorShape": {"dim": [{"size": str(d)} for d in values.shape]}}
        self.nodes.append(
            {"name": name, "op": "Const", "attr": {"dtype": {"type": TYPES[dtype]}, "value": {"tensor": tensor}}}
        )
        return name

    def node(self, op, inputs, name=None, **attr):
        name = name or self._name(op.strip("_").lower())
        self.nodes.append({"name": name, "op": op, "input": list(inputs), "attr": attr})
        return name

    def conv(self, x, layer):
        """One fused node for a `network.Conv`: convolution, bias and activation."""
        weight = layer.conv.weight.detach().float().cpu()
        bias = layer.conv.bias
        bias = torch.zeros(weight.shape[0]) if bias is None else bias.detach().float().cpu()
        order = (2, 3, 0, 1) if layer.depthwise else (2, 3, 1, 0)
        fused = ["BiasAdd"] + ({"relu6": ["Relu6"], "relu": ["Relu"]}.get(layer.act, []))
        return self.node(
            "FusedDepthwiseConv2dNative" if layer.depthwise else "_FusedConv2D",
            [x, self.const(weight.permute(*order).numpy(), half=True), self.const(bias.numpy(), half=True)],
            T={"type": "DT_FLOAT"},
            num_args={"i": "1"},
            fused_ops={"list": {"s": [text(f) for f in fused]}},
            epsilon={"f": 0.0},
            strides=ints([1, layer.stride, layer.stride, 1]),
            dilations=ints([1, 1, 1, 1]),
            padding={"s": text("SAME")},
            data_format={"s": text("NHWC")},
            explicit_paddings={"list": {}},
        )

    def binary(self, op, a, b, dtype="DT_FLOAT"):
        return self.node(op, [a, b], T={"type": dtype})

    def cast(self, x, source, target):
        return self.node("Cast", [x], SrcT={"type": source}, DstT={"type": target}, Truncate={"b": False})

    def reshape(self, x, shape, dtype="DT_FLOAT"):
        return self.node(
            "Reshape", [x, self.const(np.array(shape, np.int32))], T={"type": dtype}, Tshape={"type": "DT_INT32"}
        )

    def resize(self, x, height, width):
        size = self.const(np.array([height, width], np.int32))
        return self.node(
            "ResizeBilinear",
            [x, size],
            T={"type": "DT_FLOAT"},
            align_corners={"b": False},
            half_pixel_centers={"b": True},
        )

    def concat(self, parts, axis, dtype="DT_FLOAT"):
        return self.node(
            "ConcatV2",
            [*parts, self.const(np.int32(axis))],
            N={"i": str(len(parts))},
            T={"type": dtype},
            Tidx={"type": "DT_INT32"},
        )

    def gather(self, x, index, axis, index_dtype="DT_INT32"):
        return self.node(
            "GatherV2",
            [x, index, self.const(np.int32(axis))],
            Tparams={"type": "DT_FLOAT"},
            Tindices={"type": index_dtype},
            Taxis={"type": "DT_INT32"},
            batch_dims={"i": "0"},
        )

    def save(self, json_path, inputs, outputs, metadata):
        """`inputs` and `outputs`: {signature name: (node, dtype, shape)}. Writes the JSON and each weight file."""
        path = Path(json_path)

        def signature(entries):
            return {
                key: {
                    "name": node + ":0",
                    "dtype": TYPES[dtype],
                    "tensorShape": {"dim": [{"size": str(d)} for d in shape]},
                }
                for key, (node, dtype, shape) in entries.items()
            }

        graph = {
            "format": "graph-model",
            "generatedBy": "models/training/export.py",
            "convertedBy": "models/training/graph_file.py",
            "signature": {"inputs": signature(inputs), "outputs": signature(outputs)},
            "userDefinedMetadata": metadata,
            "modelTopology": {"node": self.nodes, "library": {}, "versions": {"producer": 1}},
            "weightsManifest": [{"paths": [g["path"]], "weights": g["specs"]} for g in self.groups],
        }
        path.write_text(json.dumps(graph, separators=(",", ":")))
        for group in self.groups:
            (path.parent / group["path"]).write_bytes(group["data"])


def ints(values):
    return {"list": {"i": [str(v) for v in values]}}


def text(value):
    return base64.b64encode(value.encode()).decode()

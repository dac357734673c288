import { type EncodedPacket, EncodedPacketSink, type InputVideoTrack } from "mediabunny";

/** The pictures a video track holds, read from its packets without decoding one. */
export interface PacketList {
  /** Presentation times on the container's clock of all pictures to be shown, rising, seconds. */
  timesS: number[];
  /** Those of key frames, rising. */
  keyTimesS: number[];
  /** End of the last picture, seconds. */
  endS: number;
  /** End of the last picture that the index names, also of those cut off, seconds. */
  promisedEndS: number;
}

/** Lists the packets of a track; those whose bytes are cut off the file's end are left out. */
export async function listPackets(track: InputVideoTrack): Promise<PacketList> {
  const sink = new EncodedPacketSink(track);
  const packets: EncodedPacket[] = [];
  for await (const packet of sink.packets(undefined, undefined, { metadataOnly: true })) packets.push(packet);
  const whole = packets.slice(0, await countReadable(sink, packets));
  // A picture that ends before time zero is cut away by the container's edit list and never shown.
  const shown = whole.filter(isShown).sort((a, b) => a.timestamp - b.timestamp);
  const durationS = await track.getDurationFromMetadata().catch(() => null);
  return {
    timesS: shown.map((packet) => packet.timestamp),
    keyTimesS: shown.filter((packet) => packet.type === "key").map((packet) => packet.timestamp),
    endS: lastEnd(shown),
    promisedEndS: Math.max(lastEnd(packets), durationS ?? 0),
  };
}

/** Whether a packet's or sample's picture is on show at any time from zero on. */
export function isShown(picture: { timestamp: number; duration: number }): boolean {
  return picture.timestamp >= 0 || picture.timestamp + picture.duration > 1e-6;
}

function lastEnd(packets: EncodedPacket[]): number {
  return packets.reduce((end, packet) => Math.max(end, packet.timestamp + packet.duration), 0);
}

/** How many packets from the first on have their bytes in the file: bytes lie in decoding order, so bisect. */
async function countReadable(sink: EncodedPacketSink, packets: EncodedPacket[]): Promise<number> {
  let low = 0;
  let high = packets.length;
  if (high > 0 && (await isReadable(sink, packets, high - 1))) return high;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (await isReadable(sink, packets, middle)) low = middle + 1;
    else high = middle;
  }
  return low;
}

async function isReadable(
  sink: EncodedPacketSink,
  packets: EncodedPacket[],
  index: number,
): Promise<boolean> {
  const before = packets[index - 1];
  try {
    const packet = before ? await sink.getNextPacket(before) : await sink.getFirstPacket();
    return packet !== null && packet.byteLength > 0;
  } catch {
    return false;
  }
}
